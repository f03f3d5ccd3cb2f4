"""The record book: takes of students, kept in one file on their own machine."""

from reedmill.record.exporting import book_csv, book_data, book_json
from reedmill.record.kept_take import KeptTake, StudentTakes
from reedmill.record.record_book import (
    Added,
    AnothersTakeError,
    PlayedTake,
    RecordBook,
    StudentRow,
    alike_name,
    is_book,
    open_book,
    student_name,
    usual_place,
)
from reedmill.record.rung_progress import CellProgress, StudentProgress, Trend, progress_of
from reedmill.record.rung_sums import StudentSums
from reedmill.record.take_data import FileRefusedError, read_take_data

__all__ = [
    "Added",
    "AnothersTakeError",
    "CellProgress",
    "FileRefusedError",
    "KeptTake",
    "PlayedTake",
    "RecordBook",
    "StudentProgress",
    "StudentRow",
    "StudentSums",
    "StudentTakes",
    "Trend",
    "alike_name",
    "book_csv",
    "book_data",
    "book_json",
    "is_book",
    "open_book",
    "progress_of",
    "read_take_data",
    "student_name",
    "usual_place",
]
