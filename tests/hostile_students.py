"""Names of students, and titles of drills, that a stranger might give to do harm."""

HOSTILE_STUDENTS = {
    "script": "<script>window.pwned = 1</script>",
    "attributes": "\"'><img src=x onerror='window.pwned = 2'>",
    "end of data": "]]></style><svg onload='window.pwned = 3'>",
    "end of comment": "--></title><svg onload=window.pwned=4>",
    "entities": "&lt;b&gt; &amp; {{ 7 * 7 }} {% raw %}",
    "controls": "a\x1b[31m\x00b",
    "right to left": "\u05e9\u05dc\u05d5\u05dd \u05e2\u05d3\u05d4",
    "override": "\u202eadA",
    "wide": "\u5c71" * 80,
    "one word": "W" * 80,
}
"""By what each tries: none may run anything, be lost, or be wider than a screen."""
