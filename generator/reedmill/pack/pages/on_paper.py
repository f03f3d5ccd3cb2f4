"""The words of a course that are printed, and letters the paper leaves out."""

from __future__ import annotations

from reedmill.pack.course.course import Course, Entry, Lesson
from reedmill.sheet.letters import left_out


def letters_left_out(course: Course) -> str:
    """Return one line on letters that no font here has, with their places; or nothing."""
    texts: dict[str, tuple[str, ...]] = {course.title: (course.title, course.about, course.author)}
    for student in course.students:
        texts[student.name] = (student.name,)
    for lesson in course.lessons:
        _add(texts, lesson.title, _of_lesson(lesson))
        for entry in lesson.entries:
            _add(texts, entry.drill.title, _of_entry(entry))
    return left_out(texts)


def _add(texts: dict[str, tuple[str, ...]], title: str, words: tuple[str, ...]) -> None:
    texts[title] = (*texts.get(title, ()), *words)


def _of_lesson(lesson: Lesson) -> tuple[str, ...]:
    return lesson.title, lesson.goal, lesson.text.replace("\n", " ")


def _of_entry(entry: Entry) -> tuple[str, ...]:
    drill = entry.drill
    names = (section.name for section in drill.sections)
    return drill.title, drill.about or "", drill.listen or "", entry.note, *names
