r"""LilyPond's settings for each run: the same pictures for less work.

LilyPond reads them before it reads the music, while that is still being made.  Each puts a quicker
function in the place of one of LilyPond 2.24, with the same result, and only where it has that
function; ``tests/sheet/test_quick_lilypond.py`` compares what is drawn with and without them.
"""

from __future__ import annotations

SETTINGS_FILE = "quick.ly"
"""The name of the settings in LilyPond's folder: a path of the player's would need quoting."""

UNSWEPT = {"GC_DONT_GC": "1"}
"""Environment that keeps LilyPond from sweeping its memory until ``SETTINGS`` allow it.

Its start sweeps eight times, which takes a sixth of that start and frees a few megabytes.
"""

# Signs of music are in eight fonts, one for each size of staff, and each takes 10 ms to read.  To
# find the one for a size, LilyPond reads them from the smallest up to the first that is too large:
# seven for a staff of the usual size.  How large each is LilyPond has in a table as well, so that
# only the nearest is shown to it; of two as near as each other both, and LilyPond chooses.
_FEW_FONTS = r"""
#(let* ((lily (resolve-module '(lily)))
        (needed '(lookup-font make-font-tree-leaf feta-design-size-mapping)))
  (if (every (lambda (name) (module-variable lily name)) needed)
    (let ((fonts-for (module-ref lily 'lookup-font))
          (fonts-with (module-ref lily 'make-font-tree-leaf))
          (sizes (map (lambda (font) (ly:pt (cdr font))) feta-design-size-mapping))
          (slot (@ (oop goops) slot-ref))
          (known (make-hash-table)))
      (define (nearest wanted sizes fonts)
        (if (or (null? (cdr sizes)) (< wanted (car sizes)))
            (list (car fonts))
            (let ((middle-squared (* (car sizes) (cadr sizes))) (squared (* wanted wanted)))
              (cond ((>= wanted (cadr sizes)) (nearest wanted (cdr sizes) (cdr fonts)))
                    ((< squared (* 0.999999 middle-squared)) (list (car fonts)))
                    ((> squared (* 1.000001 middle-squared)) (list (cadr fonts)))
                    (else (list (car fonts) (cadr fonts)))))))
      (define (few all steps)
        (let ((usual (slot all 'default-size)) (fonts (vector->list (slot all 'size-vector))))
          (if (and (= (length fonts) (length sizes)) (every promise? fonts))
              (fonts-with usual
                (list->vector (nearest (* usual (magstep steps)) sizes fonts)))
              all)))  ; letters, which are not read from files of LilyPond's own kind
      (module-set! lily 'lookup-font
        (lambda (tree properties)
          (let* ((all (fonts-for tree properties))
                 (asked (chain-assoc-get 'font-size properties 0))
                 (steps (if (number? asked) asked 0))
                 (chosen (hashq-ref known all '()))
                 (before (assv steps chosen)))
            (if before
                (cdr before)
                (let ((found (few all steps)))
                  (hashq-set! known all (acons steps found chosen))
                  found))))))))
"""

# The SVG backend seeks each sign with a regular expression in all of its font's file, and cuts
# every text apart with five more; most signs and texts of a page come many times.  Signs that
# have a place of their own beside others are written anew: that place is not in what is asked.
_QUICK_SVG = r"""
#(let* ((backend (and (eq? 'svg (ly:get-option 'backend)) (resolve-module '(lily output-svg))))
        (needed '(cache-font extract-glyph extract-glyph-info svg-defs stencil-dispatch-alist)))
  (if (and backend (every (lambda (name) (module-variable backend name)) needed))
    (let ((sign-of (module-ref backend 'extract-glyph))
          (placed-sign-of (module-ref backend 'extract-glyph-info))
          (signs-in (module-ref backend 'svg-defs))
          (writers (module-ref backend 'stencil-dispatch-alist))
          (fonts (make-hash-table)) (outlines (make-hash-table))
          (signs (make-hash-table)) (texts (make-hash-table)))
      (define (remembered table asked make)
        (or (hash-ref table asked)
            (let ((found (make)))
              (hash-set! table asked found)
              found)))
      (define (outline file name)  ; the one element of the font that is of this sign
        (remembered outlines (cons file name)
          (lambda ()
            (let* ((all (remembered fonts file
                          (lambda () (signs-in (cached-file-contents file)))))
                   (named (string-contains all (string-append "glyph-name=\"" name "\""))))
              (if named
                  (substring all (string-rindex all #\< 0 named)
                                 (1+ (string-index all #\> named)))
                  all)))))
      (module-set! backend 'cache-font
        (lambda (file size sign)
          (if (list? sign)
              (placed-sign-of (outline file (last sign)) sign size)
              (remembered signs (list file size sign)
                (lambda () (sign-of (outline file sign) sign size))))))
      (let ((written (assq-ref writers 'utf-8-string)))
        (assq-set! writers 'utf-8-string
          (lambda (font text original)
            (remembered texts (list font text (module-ref backend 'lily-unit-length))
              (lambda () (written font text original)))))))))
"""

SETTINGS = f'\\version "2.24.3"\n{_FEW_FONTS}{_QUICK_SVG}#(gc-enable)\n'
"""LilyPond input to be included before any other; it ends the time without sweeps."""
