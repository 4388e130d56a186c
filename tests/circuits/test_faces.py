"""Connector faces: written from one side, drawn from both.

That the mating side is the wire side mirrored left to right is common practice, no source.
"""

import re

import pytest
from django.contrib.auth.models import User

from circuits.drawing import draw_face, rows_of
from circuits.services import publish_revision, sheet_of
from circuits.sheet import FaceSide, SheetErrors, read_json, read_text, to_json, write_text
from tests.circuits.test_nudges import AT, PUMP

FACE = "X12  wire  2x3  plug at the relay  | 1 K85, 2 -, 3 K87, 4 K30, -, 5 IG  # grey"


def with_faces(*lines: str) -> str:
    return write_text(PUMP) + "\n[faces]\n" + "\n".join(lines) + "\n"


def numbers_across(svg: str) -> list[str]:
    """Return the numbers of the upper row as they stand from left to right."""
    found = re.findall(r'x="([\d.]+)" y="58" [^>]*font-weight="700"[^>]*>(\w+)<', svg)
    return [words for _, words in sorted((float(x), words) for x, words in found)]


def test_from_the_other_side_left_and_right_change_places():
    (face,) = read_text(with_faces(FACE)).faces

    assert numbers_across(draw_face(face, FaceSide.WIRE)) == ["1", "2", "3"]
    assert numbers_across(draw_face(face, FaceSide.MATING)) == ["3", "2", "1"]
    assert [cavity.number for cavity in rows_of(face, FaceSide.MATING)[1]] == ["5", "", "4"]


def test_text_and_json_keep_a_face_word_for_word():
    sheet = read_text(with_faces(FACE))

    assert FACE in re.sub("  +", "  ", write_text(sheet))
    assert read_text(write_text(sheet)) == sheet == read_json(to_json(sheet))


@pytest.mark.django_db
def test_a_published_face_comes_back_from_its_rows():
    sheet = read_text(with_faces(FACE))
    by = User.objects.create_user("brandt")

    assert sheet_of(publish_revision(sheet=sheet, note="Faces.", by=by, at=AT)).faces == sheet.faces


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("X12 side 1x2 | 1 K85, 2 K87", "'side' is no side"),
        ("X12 wire 1 x 2 | 1 K85, 2 K87", "'1' is no size"),
        ("X12 wire 2x2 | 1 K85, 2 K87", "2 cavities are named, and 2x2 has 4 spots"),
        ("X12 wire 1x2 | 1 K85, 1 K87", "cavity 1 is named twice"),
        ("X12 wire 1x2 | 1 K85, 2 K78", "there is no connection 'K78'"),
        ("X12 wire 1x2 | 1 K85, 2", "'2' is no cavity"),
        ("X12 wire 0x2 | 1 K85", "a face of 0x2"),
        ("X12 wire 1x1", "a face is written"),
    ],
)
def test_what_makes_no_face_is_said_with_its_line(line, said):
    with pytest.raises(SheetErrors, match=said) as told:
        read_text(with_faces(line))

    assert with_faces(line).splitlines()[told.value.flaws[0].line - 1] == line


def test_two_faces_of_one_name_are_refused():
    with pytest.raises(SheetErrors, match="another connector has this name"):
        read_text(with_faces(FACE, FACE))
