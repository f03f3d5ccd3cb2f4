"""Broken patterns, each with the whole text of its error.

The patterns come from the table of mistakes and from the variants below.  The texts were
written for players and read aloud; one is changed on purpose, never to follow the code.  Two
of them list the words a line may start with: a new word stands in both.
"""

from __future__ import annotations

from reedmill.harp import RICHTER
from reedmill.language.mistakes import MISTAKES

# The key of a mistake, and all that is said of its example.
MESSAGES = {
    "unclosed-quote": """
mine.drill:1:7: this quote is never closed
    1 | drill "Home
      |       ^
  Put a " at the end of the text, on this line.
""",
    "curly-quote": """
mine.drill:1:7: this is a curly quote: “
    1 | drill “Home”
      |       ^
  Write straight quotes, such as drill "Home from every rung".
""",
    "unclosed-bracket": """
mine.drill:2:8: this bracket is never closed
    2 |   play (-2 -3
      |        ^
  Put a ) after the notes that belong together.
""",
    "unopened-bracket": """
mine.drill:2:13: this bracket was never opened
    2 |   play -2 -3)x2
      |             ^
  Put a ( before the notes that belong together.
""",
    "brackets-too-deep": """
mine.drill:2:10: brackets stand inside brackets more than 6 deep here
    2 |   play (((((((((-2)))))))))
      |          ^
  Write the music out, or take a pair of brackets away.
""",
    "mistyped-line": """
mine.drill:4:3: no line of a drill starts with "phrse". Did you mean "phrase"?
    4 |   phrse anchor rung
      |   ^^^^^
  Write for example: phrase anchor rung
""",
    "unknown-line": """
mine.drill:5:3: no line of a drill starts with "jump".
    5 |   jump -3
      |   ^^^^
  A line starts with one of these words, or with # for a comment:
    the drill  drill from move
    what for   about listen level positions over
    the beat   tempo meter feel pickup length
    the harp   anchor rungs order allow octave embouchure
    the music  phrase ending play tune echo section
""",
    "line-too-short": """
mine.drill:1:6: this drill line stops too early
    1 | drill
      |      ^
  The drill line takes the title in quotes: drill "Home from every rung"
""",
    "does-not-fit": """
mine.drill:2:9: "fast" does not fit here
    2 |   tempo fast
      |         ^^^^
  The tempo line takes beats a minute, 20 to 300, or a range of them: tempo 56 to 84
""",
    "invisible-character": """
mine.drill:2:11: the invisible character U+0000 does not belong here
    2 |   play -2 · -3
      |           ^
  The play line takes the music, as reeds: play -2 -3' -2:2
""",
    "line-before-drill": """
mine.drill:1:1: this tempo line stands before any drill
    1 | tempo 60
      | ^^^^^
  Start with a line such as: drill "Home from every rung"
""",
    "second-line": """
mine.drill:3:3: this drill has a second tempo line
    3 |   tempo 70
      |   ^^^^^
  Keep one of them. (Only play and tune may go on over several lines.)
""",
    "line-inside-section": """
mine.drill:3:3: this tempo line stands inside a section
    3 |   tempo 60
      |   ^^^^^
  Put it above the first section line: tempo holds for the whole drill.
""",
    "unknown-choice": """
mine.drill:2:8: "shufle" is not a feel. Did you mean "shuffle"?
    2 |   feel shufle
      |        ^^^^^^
  Write straight or shuffle.
""",
    "number-out-of-range": """
mine.drill:2:9: tempo 900 is out of range
    2 |   tempo 900
      |         ^^^
  Write a whole number from 20 to 300.
""",
    "no-such-position": """
mine.drill:2:13: there is no position "corss". Did you mean "cross"?
    2 |   positions corss
      |             ^^^^^
  Write numbers from 1 to 12, or words for them: positions 1st, cross, 3
""",
    "no-such-place": """
mine.drill:2:11: "C7" is not a chord of a form.
    2 |   over I, C7
      |           ^^
  Write a Roman numeral, lower case for a minor chord, or turnaround or ending: over I, IV
""",
    "not-two-bars": """
mine.drill:1:7: "Home" has 3 bars, and a phrase over a form has two whole bars
    1 | drill "Home"
      |       ^^^^^^
  Write two bars, or leave out the over line.
""",
    "text-too-long": """
mine.drill:1:7: this title has 10,000 characters; the most is 120
    1 | drill "xxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxx
      |       ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^
  Shorten it. Longer thoughts fit in a comment, after a # sign.
""",
    "empty-title": """
mine.drill:1:7: this title is empty
    1 | drill " "
      |       ^^^
  Give the drill a name, such as: drill "Home from every rung"
""",
    "empty-section": """
mine.drill:2:11: this section has no name
    2 |   section ""
      |           ^^
  Name it, such as: section "Long tones"
""",
    "no-such-hole": """
mine.drill:2:11: there is no hole 11
    2 |   play -2 -11
      |           ^^^
  A harp has holes 1 to 10: -3 is draw 3, 3 is blow 3, and -2&3 is draw 2 and 3 at once.
""",
    "bend-too-deep": """
mine.drill:3:12: -3'''' bends too far: draw 3 bends at most 3 semitones
    3 |   rungs -3 -3''''
      |            ^^^^^^
  A bend stops a semitone above the hole's other reed: here draw 3 (B4 on a C harp) and blow 3 (G4 on a C harp).
  Write -3''' for draw 3 bent three semitones (Ab4 on a C harp).
""",
    "no-note-to-bend-to": """
mine.drill:3:16: hole 5 draw does not bend a semitone on a Richter harp
    3 |   rungs -4 -4' -5'
      |                ^^^
  There is no note between draw 5 (F5 on a C harp) and blow 5 (E5 on a C harp).
  Write -5 for draw 5 (F5 on a C harp).
""",
    "bend-of-the-other-reed": """
mine.drill:2:8: hole 3 blow does not bend on a Richter harp
    2 |   play 3'
      |        ^^
  Only the higher reed of a hole bends down: here draw 3 (B4 on a C harp), not blow 3 (G4 on a C harp).
  Write -3' for draw 3 bent a semitone (Bb4 on a C harp).
""",
    "no-overbend": """
mine.drill:2:8: 2^ cannot be played: hole 2 has no overblow on a Richter harp
    2 |   play 2^
      |        ^^
  Overbends that give a note of their own are: 1^ 4^ 5^ 6^ -7^ -9^ -10^.
""",
    "unknown-note": """
mine.drill:4:17: "rnug" is not a note. Did you mean "rung"?
    4 |   phrase anchor rnug
      |                 ^^^^
  Write a reed such as -3', r for a rest, or one of anchor, rung, previous, next, first, last. Before them may stand mute, slap, scoop, vibrato, shake, fall, pull.
""",
    "tab-of-another-kind": """
mine.drill:2:8: "-3bb" is another way of writing tab
    2 |   play -3bb
      |        ^^^^
  Write -3'' for draw 3 bent two semitones.
  A hole alone is a blow, - before it a draw, each ' after it bends a semitone and ^ is an overbend.
""",
    "hole-in-brackets": """
mine.drill:2:11: brackets do not say draw or blow here
    2 |   play 4 (4)
      |           ^
  Write -4 for draw 4, 4 for blow 4. Brackets hold what is repeated: (-2 -3)x4
""",
    "breath-in-words": """
mine.drill:2:10: "draw" is said with a sign here: -3 is draw 3, 3 is blow 3
    2 |   play 3 draw
      |          ^^^^
  Write the hole alone, with a minus sign for a draw.
""",
    "rest-in-words": """
mine.drill:2:11: "rest" is written r here
    2 |   play -3 rest -2
      |           ^^^^
  Write r for one usual length of silence, r:2 for two beats.
""",
    "note-name": """
mine.drill:2:8: "C" is the name of a note, and drills are written in holes
    2 |   play C G
      |        ^
  The same drill then fits every harp. On a C harp C is blow 1, written 1, and D is draw 1, written -1; reedmill notes lists them all.
""",
    "comma-between-notes": """
mine.drill:2:10: notes need no commas
    2 |   play -2, -3
      |          ^
  Put spaces between them: play -2 -3' -2:2
""",
    "section-of-printed-tab": """
mine.drill:3:5: "Low" names a section of printed tab, and music has no names in it
    3 |     Low: -2 -3 |
      |     ^^^^
  Leave the name out, or give the section a line: section "Low" and play below it.
""",
    "nothing-to-hold": """
mine.drill:2:8: there is no note before this _ to go on with
    2 |   play _ -2
      |        ^
  In tab as it is printed _ holds the note before it. Write . for a rest.
""",
    "slide-between-reeds": """
mine.drill:2:11: no slide leads from -2 to -3'
    2 |   play -2~-3'
      |           ^^^
  A slide stays in one hole and one breath, such as -3~-3'. Leave the ~ out for a new attack.
""",
    "slide-into-rest": """
mine.drill:2:10: a rest cannot be slid into
    2 |   play -3~r
      |          ^
  Put ~ between two notes of one reed, such as -3~-3'.
""",
    "accent-on-rest": """
mine.drill:2:11: a rest cannot be accented
    2 |   play -3 r!
      |           ^^
  Put ! after a note, such as -3!.
""",
    "accent-on-slide": """
mine.drill:2:11: an accent needs a new attack, and a note after ~ has none
    2 |   play -3~-3'!
      |           ^^^^
  Accent the note before the ~, such as -3!~-3', or leave the ~ out.
""",
    "accent-after-length": """
mine.drill:2:14: this ! comes after the length
    2 |   play -3:1/2! -2
      |              ^
  The accent comes first, then the length: -3!:1/2
""",
    "bar-inside-slide": """
mine.drill:2:16: this | stands between a ~ and the note it slides to
    2 |   play -3:4~:1 | -3':4
      |                ^
  Put the ~ straight before that note: -3:4 | ~:1 -3':4
""",
    "slide-from-nowhere": """
mine.drill:2:14: there is no note to slide from here
    2 |   play -3 r ~-3'
      |              ^^^
  Put ~ straight between two notes of one reed, such as -3~-3'.
""",
    "holes-run-together": """
mine.drill:2:8: there is no space between the reeds of -2-3
    2 |   play -2-3 -2
      |        ^^^^
  Write -2&3 for all of them at once, or -2 -3 for one after the other.
""",
    "and-without-holes": """
mine.drill:2:10: this & does not stand between two holes
    2 |   play -2& r
      |          ^
  Write the holes of one breath with & between, and no words: -2&3. On a tune line write degrees: 1&5
""",
    "several-in-a-run": """
mine.drill:3:18: "all of" and "bends of" go down one hole, not several
    3 |   rungs all of -2&3
      |                  ^
  Write several holes out, rung by rung: rungs -2&3 -2'&3'
""",
    "two-breaths": """
mine.drill:2:8: -2 and 3 cannot be played at once: one breath blows or draws
    2 |   play -2&+3
      |        ^^^^^
  Write holes of one breath. The sign of the first is for all of them: -2&3 is draw 2 and 3, 2&3 is blow 2 and 3.
""",
    "hole-twice": """
mine.drill:2:8: hole 2 is written twice here
    2 |   play -2&2'
      |        ^^^^^
  One hole gives one note at a time. Write each hole once: -2&3
""",
    "holes-too-far-apart": """
mine.drill:2:8: holes 1 and 6 are too far apart for one mouth
    2 |   play -1&6
      |        ^^^^
  A mouth covers 5 holes at the most, such as -1&5.
""",
    "two-gaps": """
mine.drill:2:8: -1&3&5 leaves out holes in two places, and the tongue covers only one
    2 |   play -1&3&5
      |        ^^^^^^
  Leave out holes that lie side by side, such as -1&4 or -1&2&5.
""",
    "bend-among-holes": """
mine.drill:2:8: -2'&3&4 cannot be bent
    2 |   play -2'&3&4
      |        ^^^^^^^
  Only two holes side by side bend together. Write natural notes, such as -2&3&4.
""",
    "two-bent-too-far": """
mine.drill:2:8: -2''&3' bends too far: two holes together bend a semitone at the most
    2 |   play -2''&3'
      |        ^^^^^^^
  Write at most one tick for each hole: -2'&3'
""",
    "overbend-among-holes": """
mine.drill:2:8: 5&6^ cannot be played: an overbend needs one hole alone
    2 |   play 5&6^
      |        ^^^^
  Write it alone, or natural notes at once, such as 5&6.
""",
    "degree-twice": """
mine.drill:2:10: 1&1 has the same note twice
    2 |   tune 1 1&1
      |          ^^^
  Write each degree once. A + after a degree is an octave up: 1&1+
""",
    "no-breath-for-degrees": """
mine.drill:2:10: no one breath gives 1&2 at once in 2nd position (cross harp) on this C harp
    2 |   tune 1 1&2
      |          ^^^
  Write degrees that one breath gives within five neighbouring holes, with any gap between them in one place.
""",
    "nothing-held": """
mine.drill:2:11: no hole goes on from -2 to -3&4
    2 |   play -2~-3&4
      |           ^^^^
  A ~ to other holes needs one that sounds on, in the same breath: -4~-1&2&3&4. Leave the ~ out for a new attack.
""",
    "lift-moves-hole": """
mine.drill:2:11: hole 3 cannot go on from -3 to -2&3': its bend changes
    2 |   play -3~-2&3'
      |           ^^^^^
  A hole that sounds on while others join it or leave it stays as it is: -3~-3'~-2&3'. Leave the ~ out for a new attack.
""",
    "length-on-lift": """
mine.drill:2:14: this ~ has a length, and nothing slides on the way to -1&2&3&4
    2 |   play -4~:1 -1&2&3&4
      |              ^^^^^^^^
  Others join the hole that sounds on, or leave it, all at once. Write ~ alone: -4~-1&2&3&4
""",
    "nothing-held-in-tune": """
mine.drill:2:10: no hole goes on between these degrees
    2 |   tune 1~5&b7
      |          ^^^^
  Leave the ~ out for a new attack, or keep one degree, such as 5~1&5 in cross harp.
""",
    "mark-without-note": """
mine.drill:2:11: slap stands before no note here
    2 |   play -4 slap
      |           ^
  The word comes before its note, and length and accent after the note: slap -4!:2
""",
    "mark-on-rest": """
mine.drill:2:19: a rest has no vibrato
    2 |   play -3 vibrato r
      |                   ^
  Put the word before a note, such as vibrato -4:2.
""",
    "mark-twice": """
mine.drill:2:13: slap is written twice for one note
    2 |   play slap slap -2
      |             ^^^^
  Write it once.
""",
    "mark-on-slide": """
mine.drill:2:16: slap needs a new attack, and a note after ~ has none
    2 |   play -3~slap -3'
      |                ^^^
  Put it before the first note of that breath, or leave the ~ out.
""",
    "shake-after-lift": """
mine.drill:2:17: a shake begins with one of its holes alone, so that none goes on into it
    2 |   play -4~shake -4&5
      |                 ^^^^
  Leave the ~ out for a new attack, or the word shake.
""",
    "slide-after-end": """
mine.drill:2:13: fall shapes the end of this note, so that no ~ can follow it
    2 |   play fall -3~-3'
      |             ^^
  Leave the ~ after it out, or put fall on the last note of that breath.
""",
    "slide-outlasts-note": """
mine.drill:2:14: this slide takes 2 beats, and the note it comes to lasts only 1 beat
    2 |   play -3~:2 -3'':1
      |              ^^^^^^
  The time of a slide is part of that note: -3~:1 -3'':2 slides for a beat and stays for another.
""",
    "count-out-of-range": """
mine.drill:2:8: vibrato99 cannot be played
    2 |   play vibrato99 -4:2
      |        ^^^^^^^^^
  After vibrato comes how often it goes to and fro in a beat, 1 to 12: vibrato4
""",
    "vibrato-and-shake": """
mine.drill:2:16: one note has a vibrato or a shake, not both
    2 |   play vibrato shake -4&5:2
      |                ^^^^^
  Leave one of the two words out.
""",
    "shake-of-two-holes": """
mine.drill:2:14: -4 cannot be shaken: a shake goes to and fro between two neighbouring holes
    2 |   play shake -4:2
      |              ^^^^
  Write both of them: shake -4&5
""",
    "nothing-below": """
mine.drill:2:14: blow 4 has no bend below it for a scoop
    2 |   play scoop 4 -4
      |              ^
  Write scoop before a note that can be bent further, such as scoop -4.
""",
    "scoop-of-overbend": """
mine.drill:2:17: 6^ takes no scoop: an overbend goes up, and nothing lies below it
    2 |   play -4 scoop 6^ -6
      |                 ^^
  Leave scoop out, or write it before a draw bend such as scoop -4'.
""",
    "scoop-of-several": """
mine.drill:2:13: -4&5 takes no fall: it is done with the bend of one hole
    2 |   play fall -4&5
      |             ^^^^
  Write fall before a single note, such as fall -4.
""",
    "slap-of-chord": """
mine.drill:2:13: -1&2&3 takes no slap: the tongue has nothing to cover
    2 |   play slap -1&2&3
      |             ^^^^^^
  Write it before one hole or a split, such as slap -4 or slap -1&4.
""",
    "missing-length": """
mine.drill:2:10: there is no length after this :
    2 |   play -2:x
      |          ^
  Write beats: -3:2 for two, -3:1/2 for half of one.
""",
    "number-too-long": """
mine.drill:2:10: this number has 12 digits; at most 9 are read
    2 |   play -2x000000000004
      |          ^^^^^^^^^^^^^
  Write it without zeros in front. No number of a drill needs more than three digits.
""",
    "unplayable-length": """
mine.drill:2:10: a length of 0 beats cannot be played
    2 |   play -2:0
      |          ^^
  A note lasts more than 0 and at most 64 beats.
""",
    "uncountable-length": """
mine.drill:2:10: a length of 1/5 cannot be counted
    2 |   play -2:1/5
      |          ^^^^
  Lengths are beats and halves, thirds, quarters, sixths or eighths of a beat: :2, :1/2, :3/2.
""",
    "triplet-not-of-threes": """
mine.drill:2:8: a triplet plays three notes in the time of two; these are 2
    2 |   play triplet(-2 -3) -2 -2
      |        ^^^^^^^
  Write three of them: triplet(-2 -3 -4). Or make one twice as long: triplet(-2:2 -3).
""",
    "too-many-dots": """
mine.drill:2:10: a length of 1... has too many dots
    2 |   play -2:1...
      |          ^^^^^
  One dot adds half, two add three quarters: :1. is :3/2, :1.. is :7/4.
""",
    "no-such-meter": """
mine.drill:2:9: there is no meter 4/5
    2 |   meter 4/5
      |         ^^^
  The first number is 1 to 16, the second 2, 4 or 8: meter 4/4, meter 12/8.
""",
    "decimal-length": """
mine.drill:2:10: a length of 0.5 is a decimal
    2 |   play -2:0.5
      |          ^^^^
  Lengths are whole beats and fractions: :1/2 for 0.5, :3/2 for 1.5.
""",
    "bar-does-not-add-up": """
mine.drill:2:17: this bar has 3 beats, but 4/4 has 4
    2 |   play -2 -2 -2 | -2
      |                 ^
  Lengthen or shorten a note before this |, or move the sign. Printed tab has no lengths to count: put it below the word play, on lines of its own.
""",
    "pickup-does-not-add-up": """
mine.drill:3:14: the pick-up before this bar line has 2 beats, but the pickup line says 1
    3 |   play -2 -2 | -3:4 |
      |              ^
  Change one of the two, so that the first whole bar starts after this |.
""",
    "pickup-too-long": """
mine.drill:1:7: a pick-up of 4 beats is a whole bar of 4/4 or more
    1 | drill "Home"
      |       ^^^^^^
  A pick-up is shorter than a bar: less than 4.
""",
    "repeats-out-of-range": """
mine.drill:2:12: x0 asks for too many or too few repeats
    2 |   play (-2)x0
      |            ^^
  Repeat between 1 and 100 times, such as (-2 -3)x4.
""",
    "ending-out-of-order": """
mine.drill:2:16: the 2nd ending stands in place 1
    2 |   play (-2 -3) 2nd (-4) 1st (-2)
      |                ^^^
  Endings come in order: (-2 -3) 1st (-4) 2nd (-2).
""",
    "too-many-notes": """
mine.drill:2:8: this drill would have 1,040,000 notes; the most is 2,000
    2 |   play ((-2 -3)x100 (-2 -3)x100)x100 (((-2)x100)x100)x100
      |        ^
  Repeat less often: a page holds some two hundred notes.
""",
    "too-many-bars": """
mine.drill:2:9: with this note or rest the drill has more than 1,000 bars
    2 |   play (-2:64)x100
      |         ^^^^^
  Repeat less often, or write shorter rests and notes. To practise for long, repeat the \
recording: reedmill make mine.drill --repeat 20
""",
    "too-many-notes-in-a-file": """
mine.drill:11:7: with this drill the file would have more than 10,000 notes
   11 | drill "Home 6"
      |       ^^^^^^^^
  Repeat less often, or split the file: a page holds some two hundred notes.
""",
    "nothing-to-play": """
mine.drill:1:7: "Home" has nothing to play
    1 | drill "Home"
      |       ^^^^^^
  Add a line of music, such as: play -2 -3' -2:2
""",
    "rungs-without-phrase": """
mine.drill:1:7: "Home" has rungs but no phrase
    1 | drill "Home"
      |       ^^^^^^
  Add a line such as: phrase anchor rung
""",
    "phrase-without-rungs": """
mine.drill:1:7: "Home" has a phrase but no rungs to play it for
    1 | drill "Home"
      |       ^^^^^^
  Add a line such as: rungs -3 -3' -3'' (music without rungs starts with play).
""",
    "two-kinds-of-music": """
mine.drill:1:7: "Home" has both a phrase and a play line
    1 | drill "Home"
      |       ^^^^^^
  Keep one of them, or put a section line between.
""",
    "anchor-not-named": """
mine.drill:3:10: "Home" uses its anchor but does not say which reed it is
    3 |   phrase anchor rung
      |          ^^^^^^
  Add a line such as: anchor -2
""",
    "too-many-rungs": """
mine.drill:3:709: this line names 202 rungs; the most is 200
    3 | -3' -3 -3' -3 -3' -3 -3' -3 -3' -3 -3' -3 -3' -3 -3' -3 -3' -3 -3'\x20
      |                                                             ^^
  A harp has about forty notes: name those the drill is about, and play them more than once with \
order down, up.
""",
    "too-many-plans": """
mine.drill:2:3: this line has 10 plans for the mouth; the most is 9
    2 |   embouchure lips or lips or lips or lips or lips or lips or lips or lips or lips or lips
      |   ^^^^^^^^^^
  Each plan makes a version of the drill, and there are 9 different ones: write each once.
""",
    "unknown-anchor": """
mine.drill:2:10: "home" is not an anchor.
    2 |   anchor home
      |          ^^^^
  Write a reed such as -2, or root for the root of the position.
""",
    "no-root": """
mine.drill:2:10: this harp has no root in 2nd position (cross harp) without an overbend
    2 |   anchor root
      |          ^^^^
  Name a reed instead, such as: anchor -2
""",
    "unknown-order": """
mine.drill:5:9: "sideways" is not an order of rungs.
    5 |   order sideways
      |         ^^^^^^^^
  Write one or more of down, up, listed: order down, up.
""",
    "rung-outside-phrase": """
mine.drill:5:10: "rung" has a meaning only in the phrase, where each rung has its turn
    5 |   ending rung
      |          ^^^^
  Write first or last for the ends of the rungs line, or the reed itself.
""",
    "rung-without-rungs": """
mine.drill:2:8: "first" is a rung, but "Home" has no rungs line
    2 |   play first
      |        ^^^^^
  Write the reed itself, such as -3', or add a line such as: rungs -3 -3' -3''
""",
    "run-from-a-bend": """
mine.drill:3:16: "all of" starts from a natural note, and -3' is not one
    3 |   rungs all of -3'
      |                ^^^
  Write all of -3.
""",
    "run-into-another-hole": """
mine.drill:3:27: -4' is not on the way down from -3
    3 |   rungs all of -3 down to -4'
      |                           ^^^
  A run stays in one hole: all of -3 down to -3''.
""",
    "no-bends": """
mine.drill:3:9: draw 5 has no bends on this harp
    3 |   rungs bends of -5
      |         ^^^^^^^^^^^
  Write -5 for the natural note, or choose another hole.
""",
    "bends-above-themselves": """
mine.drill:3:9: draw 3 has no bends above itself
    3 |   rungs bends of -3 down to -3
      |         ^^^^^^^^^^^^^^^^^^^^^^
  Write -3 for the natural note, or bends of -3.
""",
    "no-such-degree": """
mine.drill:2:14: "15" is not a degree
    2 |   tune 1 3 5 15
      |              ^^
  Degrees are 1 to 7 with b or # before them, + after them for an octave up, - for one down: b3, 5-, 1+.
""",
    "degree-among-reeds": """
mine.drill:2:10: this b belongs to a degree, and the line is written in reeds
    2 |   play 1 b3 4
      |          ^
  Degrees belong on a tune line: tune 1 b3 4 5 b7 1+
""",
    "unknown-degree": """
mine.drill:2:11: "b" is not a degree
    2 |   tune 1 3b 4
      |           ^
  A tune is written in degrees with the flat or sharp before them: 1 b3 4 #4 5, and r for a rest. A remark after # needs a space: # like this.
""",
    "reed-among-degrees": """
mine.drill:2:8: -2 is a reed, and a tune is written in degrees
    2 |   tune -2 -3
      |        ^^
  Reeds belong on a play line. On a tune line a - comes after a degree for an octave down: 5-
""",
    "no-reed-for-degree": """
mine.drill:2:10: no reed gives 3 here in 2nd position (cross harp) on this C harp
    2 |   tune 1 3- 1
      |          ^^
  The nearest position that has the whole tune is the 4th. In this one it lies in the middle octave of the harp: write octave middle.
""",
    "degree-needs-overbend": """
mine.drill:2:10: no reed gives b3 here in 2nd position (cross harp) on this C harp
    2 |   tune 1 b3+ 1
      |          ^^^
  The nearest position that has the whole tune is the 3rd. In this one it lies in the middle octave of the harp: write octave middle. Only an overbend gives it: the line allow overbends permits that.
""",
    "octave-without-tune": """
mine.drill:2:10: the octave line says where a tune lies, and "Home" has no tune
    2 |   octave low
      |          ^^^
  Leave the line out: reeds are where they are. Or write the music as degrees, on a tune line.
""",
    "no-slide-between-degrees": """
mine.drill:2:10: no reed can slide between these degrees
    2 |   tune 1~2
      |          ^
  Leave the ~ out for a new attack, or slide within a bend, such as b3~3 in cross harp.
""",
    "unknown-parent": """
mine.drill:4:8: there is no drill called "Hume". Did you mean "Home"?
    4 |   from "Hume"
      |        ^^^^^^
  Name a drill of this file or of the library, exactly as its title is written.
""",
    "circle": """
mine.drill:4:8: "B" is made from itself, in a circle
    4 |   from "A"
      |        ^^^
  One drill of the circle must stand on its own, without a from line.
""",
    "one-title-twice": """
mine.drill:3:7: there are two drills called "Home" in this file
    3 | drill "Home"
      |       ^^^^^^
  Give one of them another title.
""",
    "nothing-to-move": """
mine.drill:2:8: there is nothing to move: this drill has no from line
    2 |   move up 1
      |        ^^^^
  Add one, such as: from "Home from every rung"; its reeds are then moved.
""",
    "moved-off-the-harp": """
mine.drill:5:8: moving -9 by 2 leaves the harp: there is no hole 11
    5 |   move up 2
      |        ^^^^
  Move fewer holes, or write the lines of this drill out.
""",
    "moved-to-no-note": """
mine.drill:5:8: moving -4' by +1 leads to a note that is not there: hole 5 draw does not bend a semitone on a Richter harp
    5 |   move up 1
      |        ^^^^
  -4' stands in line 2 of mine.drill.
  There is no note between draw 5 (F5 on a C harp) and blow 5 (E5 on a C harp).
  Move by other holes, or write the lines of this drill out.
""",
    "does-not-go-with-from": """
mine.drill:4:8: what this drill takes over does not go with its own lines: this bar has 4 beats, but 3/4 has 3
    4 |   from "Home"
      |        ^^^^^^
  That is in line 2 of mine.drill.
  Lengthen or shorten a note before this |, or move the sign. Printed tab has no lengths to count: put it below the word play, on lines of its own.
""",
    "no-drill": """
mine.drill:1:1: there is no drill in this file
  Start one with a line such as: drill "Home from every rung"
""",
    "too-many-drills": """
mine.drill:1001:7: there are 501 drills in this file; the most is 500
 1001 | drill "Home 501"
      |       ^^^^^^^^^^
  Split it into several files.
""",
    "not-utf-8": """
mine.drill:1:9: this is not UTF-8 text: byte 0xE9 cannot be read
  Save the file again with the encoding UTF-8 (most editors offer it in Save As).
""",
}

# Other ways to make a mistake: a label, the pattern, and all that is said of it.
VARIANTS = [
    (
        "a quote never closed, lines below it",
        "drill \"Home\n  anchor -2\n  rungs -3 -3'\n  phrase anchor rung\n",
        """
mine.drill:1:7: this quote is never closed
    1 | drill "Home
      |       ^
  Put a " at the end of the text, on this line.
""",
    ),
    (
        "a sign of no meaning",
        'drill "Home"\n  play -2 * -3\n',
        """
mine.drill:2:11: "*" does not fit here
    2 |   play -2 * -3
      |           ^
  The play line takes the music, as reeds: play -2 -3' -2:2
""",
    ),
    (
        "a run without of",
        'drill "Home"\n  anchor -2\n  rungs all -3\n  phrase rung\n',
        """
mine.drill:3:13: "-3" does not fit here
    3 |   rungs all -3
      |             ^^
  The rungs line takes reeds, or all of / bends of a reed: rungs -3 -3' -3''
""",
    ),
    (
        "a tempo in words, in a whole drill",
        'drill "Home"\n  tempo fast\n  anchor -2\n  rungs -3 -3\'\n  phrase anchor rung\n',
        """
mine.drill:2:9: "fast" does not fit here
    2 |   tempo fast
      |         ^^^^
  The tempo line takes beats a minute, 20 to 300, or a range of them: tempo 56 to 84
""",
    ),
    (
        "a second line in a section",
        'drill "Home"\n  section "Low"\n  echo\n  echo\n  play -2\n',
        """
mine.drill:4:3: this section has a second echo line
    4 |   echo
      |   ^^^^
  Keep one of them. (Only play and tune may go on over several lines.)
""",
    ),
    (
        "a section with nothing to play",
        'drill "Home"\n  play -2\n  section "Low"\n  length 2\n',
        """
mine.drill:3:11: "Home", section "Low", has nothing to play
    3 |   section "Low"
      |           ^^^^^
  Add a line of music, such as: play -2 -3' -2:2
""",
    ),
    (
        "a section with rungs but no phrase",
        'drill "Home"\n  rungs -3 -3\'\n  phrase rung\n  section "Low"\n  order up\n',
        """
mine.drill:4:11: "Home", section "Low", has rungs but no phrase
    4 |   section "Low"
      |           ^^^^^
  Add a line such as: phrase anchor rung
""",
    ),
    (
        "a name too long for a section",
        'drill "Home"\n  section "nnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnn"\n  play -2\n',
        """
mine.drill:2:11: this name has 121 characters; the most is 120
    2 |   section "nnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnnn
      |           ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^
  Shorten it. Longer thoughts fit in a comment, after a # sign.
""",
    ),
    (
        "a bracket behind a raised degree",
        'drill "Home"\n  tune 1 #4 5)\n',
        """
mine.drill:2:14: this bracket was never opened
    2 |   tune 1 #4 5)
      |              ^
  Put a ( before the notes that belong together.
""",
    ),
    (
        "a bracket in a comment",
        'drill "Home"\n  play (-2 -3 # )\n',
        """
mine.drill:2:8: this bracket is never closed
    2 |   play (-2 -3 # )
      |        ^
  Put a ) after the notes that belong together.
""",
    ),
    (
        "a thing that cannot be allowed",
        'drill "Home"\n  allow bends\n  play -2\n',
        """
mine.drill:2:9: "bends" is not a thing to allow. Did you mean "overbends"?
    2 |   allow bends
      |         ^^^^^
  Write overbends.
""",
    ),
    (
        "an octave that no harp has",
        'drill "Home"\n  octave top\n  tune 1\n',
        """
mine.drill:2:10: "top" is not an octave of the harp. Write "high" for it.
    2 |   octave top
      |          ^^^
  Write low or middle or high.
""",
    ),
    (
        "a note that the chosen octave lacks",
        'drill "Home"\n  octave high\n  tune 1 5+ 1\n',
        """
mine.drill:3:10: no reed gives 5 here in 2nd position (cross harp) on this C harp, counted from the root in the high octave
    3 |   tune 1 5+ 1
      |          ^^
  No other position of this harp has the whole tune in that octave. In this one it lies in the low octave of the harp: write octave low.
""",
    ),
    (
        "a way to move that does not exist",
        'drill "Home"\n  play -2\ndrill "Away"\n  from "Home"\n  move sideways 1\n',
        """
mine.drill:5:8: "sideways" is not a way to move.
    5 |   move sideways 1
      |        ^^^^^^^^
  Write up or down.
""",
    ),
    (
        "too many holes to move",
        'drill "Home"\n  play -2\ndrill "Away"\n  from "Home"\n  move up 12\n',
        """
mine.drill:5:11: move 12 is out of range
    5 |   move up 12
      |           ^^
  Write a whole number from 1 to 9.
""",
    ),
    (
        "a position past the twelfth",
        'drill "Home"\n  positions 2, 13\n  play -2\n',
        """
mine.drill:2:16: positions 13 is out of range
    2 |   positions 2, 13
      |                ^^
  Write a whole number from 1 to 12.
""",
    ),
    (
        "a sign where a line starts",
        'drill "Home"\n  * -2\n',
        """
mine.drill:2:3: no line of a drill starts with "*".
    2 |   * -2
      |   ^
  A line starts with one of these words, or with # for a comment:
    the drill  drill from move
    what for   about listen level positions over
    the beat   tempo meter feel pickup length
    the harp   anchor rungs order allow octave embouchure
    the music  phrase ending play tune echo section
""",
    ),
    (
        "a word of the wrong case",
        'drill "Home"\n  Play -2\n',
        """
mine.drill:2:3: no line of a drill starts with "Play". Did you mean "play"?
    2 |   Play -2
      |   ^^^^
  Write for example: play -2 -3' -2:2
""",
    ),
    (
        "an echo of something",
        'drill "Home"\n  play -2\n  echo twice\n',
        """
mine.drill:3:8: "twice" does not fit here
    3 |   echo twice
      |        ^^^^^
  The echo line takes nothing more: echo
""",
    ),
    (
        "a hole of three digits",
        'drill "Home"\n  play -123\n',
        """
mine.drill:2:8: there is no hole 123
    2 |   play -123
      |        ^^^^
  A harp has holes 1 to 10: -3 is draw 3, 3 is blow 3, and -2&3 is draw 2 and 3 at once.
""",
    ),
    (
        "a length far too long",
        'drill "Home"\n  play -2:65\n',
        """
mine.drill:2:10: a length of 65 beats cannot be played
    2 |   play -2:65
      |          ^^^
  A note lasts more than 0 and at most 64 beats.
""",
    ),
]

# label, pattern text, error text; all that a Richter harp and a UTF-8 file can show
BROKEN: list[tuple[str, str, str]] = [
    (MISTAKES[key].label, MISTAKES[key].broken, text.strip("\n"))
    for key, text in MESSAGES.items()
    if MISTAKES[key].encoding == "utf-8" and MISTAKES[key].layout is RICHTER
] + [(label, broken, text.strip("\n")) for label, broken, text in VARIANTS]
