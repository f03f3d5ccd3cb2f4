"""Where the band's modules find the types of an arrangement."""

from reedmill.arrangement import Arrangement as Arrangement
from reedmill.arrangement import Part as Part
from reedmill.arrangement import Struck as Struck
from reedmill.arrangement import swung as swung
