"""Limits of one course file: generous for teaching, small for a computer."""

MAX_FILE_BYTES = 500_000
MAX_LESSONS = 100
MAX_EXERCISES = 100  # of one lesson
MAX_DRILLS = 200  # named in one exercise
MAX_CHARTS = 20  # of one lesson
MAX_STUDENTS = 200
MAX_HARPS = 30  # in one list
MAX_TASKS = 10_000  # rows of all editions together
MAX_NOTES = 500_000  # of all editions together
MAX_SOUND_HOURS = 200  # in all sound files of all editions together
MAX_TITLE = 120  # characters
MAX_LINE = 300
MAX_TEXT = 20_000  # of one lesson
MAX_PATH = 200
MAX_CHORUSES = 24
PACES = range(25, 201)  # per cent
MAX_REEDS = 16  # of a role chart: what a page has room for
