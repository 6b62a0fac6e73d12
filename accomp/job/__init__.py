"""The main job: a tune and options in, a folder of files with a manifest out."""
