"""The record book: takes of students, kept in one file on their own machine."""

from reedmill.record.book import RecordBook, open_book, usual_place
from reedmill.record.exporting import book_csv, book_data
from reedmill.record.kept_take import KeptTake
from reedmill.record.take_data import StudentTakes, read_take_data

__all__ = [
    "KeptTake",
    "RecordBook",
    "StudentTakes",
    "book_csv",
    "book_data",
    "open_book",
    "read_take_data",
    "usual_place",
]
