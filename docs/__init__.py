"""What README shows, made by the program itself."""
