"""Connector end faces: find the fibre, refuse a bad picture, find and grade marks."""

from eavelight.endface.face import Face, grade_bytes, grade_picture
from eavelight.endface.grade import Criteria, Rule, Zone, grade_marks
from eavelight.endface.picture import Picture, picture_from_array, read_picture

__all__ = [
    "Criteria",
    "Face",
    "Picture",
    "Rule",
    "Zone",
    "grade_bytes",
    "grade_marks",
    "grade_picture",
    "picture_from_array",
    "read_picture",
]
