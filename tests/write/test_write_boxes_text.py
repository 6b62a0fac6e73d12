import re

from accomp.harmony import parse_chord
from accomp.neck import find_hand, find_instrument, playable_shapes
from accomp.write.box import box_lines, boxes_lines
from accomp.write.diagram import box_rows_svg


def test_a_box_as_drawn_by_hand():
    assert [line.rstrip() for line in box_lines("C7", (4, 3, 5, 3), (2, 1, 3, 1))] == [
        "   C7",
        "",
        "   ───────",
        " 3 │ 1━┿━1",
        "   2 │ │ │",
        "   │ │ 3 │",
        "   │ │ │ │",
        "   4 3 5 3",
    ]
    box = box_lines("A7", (None, 0, 2, 0, 2, 0), (0, 0, 1, 0, 2, 0))
    assert [line.rstrip() for line in box] == [
        "   A7",
        "   × ○   ○   ○",
        "   ═══════════",
        "   │ │ │ │ │ │",
        "   │ │ 1 │ 2 │",
        "   │ │ │ │ │ │",
        "   │ │ │ │ │ │",
        "   x 0 2 0 2 0",
    ]  # fmt: skip


def read_back(lines):
    """Frets and fingers of a drawn box, from the drawing alone (not from the line of numbers)."""
    strings = (len(lines[2].rstrip()) - 3 + 1) // 2
    columns = [3 + 2 * index for index in range(strings)]
    frets, fingers = [None] * strings, [0] * strings
    for index, column in enumerate(columns):
        if lines[1].ljust(40)[column] == "○":
            frets[index] = 0
    label = lines[3][:3].strip()
    first = int(label) if label else 1
    for row, line in enumerate(lines[3:-1]):
        for index, column in enumerate(columns):
            if line[column].isdigit():
                frets[index], fingers[index] = first + row, int(line[column])
    return tuple(frets), tuple(fingers)


def test_every_drawn_box_reads_back_as_its_shape():
    hand = find_hand("medium")
    for name, symbol in (("tenor-banjo", "G7"), ("guitar", "F"), ("ukulele", "Dm7")):
        for shape in playable_shapes(parse_chord(symbol), find_instrument(name), hand):
            lines = box_lines(symbol, shape.frets, shape.fingers)
            assert read_back(lines) == (shape.frets, shape.fingers)
            assert len({len(line) for line in lines}) == 1


def test_boxes_stand_side_by_side_as_wide_as_the_terminal():
    boxes = [(str(number), (0, 2, 3, 3), (0, 1, 2, 3)) for number in range(7)]
    lines = boxes_lines(boxes, width=50)
    assert max(map(len, lines)) <= 50
    titles = [line for line in lines if re.fullmatch(r"[\d ]+", line) and "0 2 3 3" not in line]
    assert [line.split() for line in titles] == [["0", "1", "2", "3"], ["4", "5", "6"]]
    assert boxes_lines(boxes, width=1)  # one below the other when there is no room


def test_rows_of_boxes_as_svg_hold_headings_and_titles_as_text():
    from lxml import etree

    hand, tenor = find_hand("medium"), find_instrument("tenor-banjo")
    shapes = playable_shapes(parse_chord("C"), tenor, hand)[:12]
    heading = 'A <b>"row"</b> & more'
    svg = box_rows_svg([(heading, [(f"C{i}", s) for i, s in enumerate(shapes)]), ("none", [])])
    root = etree.fromstring(svg.encode())
    texts = [element.text for element in root.iter("{*}text")]
    assert heading in texts
    assert [text for text in texts if text and text.startswith("C")] == [f"C{i}" for i in range(12)]
    assert len(root.findall(".//{*}g[@class='chord-box']")) == 12
    width, height = (float(root.get(name)) for name in ("width", "height"))
    assert root.get("viewBox") == f"0 0 {width:.2f} {height:.2f}"
    for group in root.findall(".//{*}g[@class='chord-box']"):
        x, y = map(float, re.findall(r"[\d.]+", group.get("transform"))[:2])
        assert 0 <= x < width
        assert 0 <= y < height
