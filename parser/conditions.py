"""The conditions that an interpreter must report, and how each is said.

The law: one row a condition: the kind of finding that it is, what is wrong, and what to change. Blanks
name their dimension as in kinds.toml, so lengths are shown in the job's unit. How a condition weighs is
the dialect's; handlers name conditions and give numbers, they word nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType


@dataclass(frozen=True, slots=True)
class Condition:
    """`weigh` is the dialect's name for it, where that is another; a condition that no dialect weighs has
    the severity of its kind."""

    kind: str
    what: str = ""
    fix: str = ""
    weigh: str = ""


_CONFLICT, _VALUE, _UNSUPPORTED = "code-conflict", "value-bad", "code-unsupported"
_DOUBT, _CYCLE, _ARC, _UNPLACED = "word-doubtful", "cycle-bad", "arc-mismatch", "unplaced"

CONDITIONS: Mapping[str, Condition] = MappingProxyType({
    # --- words and groups ---
    "code-unknown": Condition("code-unknown"),
    "code-number": Condition("code-unknown"),
    "code-unsupported": Condition(
        _UNSUPPORTED,
        "{does}, and it is not simulated",
        "Check by hand what it does from line {line} on"),
    "code-read-only": Condition(
        _UNSUPPORTED,
        "{does}, and it is not simulated",
        "Nothing of the path depends on it"),
    "code-not-in-dialect": Condition(
        _UNSUPPORTED,
        "not taken by this control ({does})",
        "Take it out of line {line}, or choose the dialect that fits the control",
        weigh="code-unsupported"),
    "axis-further": Condition(
        _UNSUPPORTED,
        "a further axis, and only X, Y and Z are simulated",
        "Take {letter} out of line {line} if the machine has no such axis; 0 hides nothing"),
    "letter-twice": Condition(
        _CONFLICT,
        "{letter} stands twice on this line; controls take the first, the last or the sum",
        "Leave one {letter} word on line {line}"),
    "two-codes-of-group": Condition(
        _CONFLICT,
        "{first} and {second} both {does} and stand on one line",
        "Keep one of them on line {line}, or give each a line of its own"),
    "two-m-of-group": Condition(
        _CONFLICT,
        "{first} and {second} both {does} and stand on one line",
        "Keep one of them on line {line}, or give each a line of its own"),
    "m7-with-m8": Condition(
        _CONFLICT,
        "M7 and M8 stand on one line; both may be on, but some controls take one M code of a group",
        "Give M7 and M8 a line each"),
    "too-many-m": Condition(
        _CONFLICT,
        "{count} M words stand on one line; a control takes {most}",
        "Spread them over two lines"),
    "word-missing": Condition(
        _VALUE,
        "{code} needs the word {letter}, and line {line} has none",
        "Add {letter} to line {line}"),
    "word-unused": Condition(
        _CONFLICT,
        "No code on this line takes the word {letter}",
        "Take {letter} out of line {line}, or add the code that it was written for"),
    "two-owners": Condition(
        _CONFLICT,
        "{first} and {second} both take the axis words of this line",
        "Put {first} on a line of its own",
        weigh="two-axis-owners"),
    "axes-with-g80": Condition(
        _CONFLICT,
        "G80 has ended motion, and no code on this line takes its axis words",
        "Put G0 or G1 on line {line}",
        weigh="axis-no-mode"),
    "axes-behind-g80": Condition(
        _DOUBT,
        "Axis words stand behind G80 with no code of their own: refused on one control, {motion} as before "
        "the cycle on another",
        "Put {motion} on line {line}",
        weigh="axis-no-mode"),
    "axes-before-motion": Condition(
        _CONFLICT,
        "Axis words stand before any motion code: rapid or feed is not said",
        "Put G0 or G1 on line {line}",
        weigh="axis-before-mode"),
    "axis-missing": Condition(
        _VALUE,
        "{code} needs axis words, and line {line} has none",
        "Add X, Y or Z to line {line}"),
    "bare-motion-code": Condition(
        _VALUE,
        "{code} stands without axis words: it moves nothing and only sets the mode",
        "Write {code} on the line that moves"),
    "g53-without-straight": Condition(
        _CONFLICT,
        "G53 goes with G0 or G1, and {motion} is in force",
        "Put G0 on line {line}",
        weigh="g53-without-motion"),
    "g53-without-axes": Condition(
        _VALUE,
        "G53 needs axis words, and line {line} has none",
        "Add X, Y or Z to line {line}",
        weigh="g53-without-motion"),
    "g53-with-g91": Condition(
        _CONFLICT,
        "G53 asks for a machine position while G91 counts increments",
        "Put G90 on line {line}"),
    "centre-wrong-plane": Condition(
        _CONFLICT,
        "{letter} is no centre letter in the plane of {plane}",
        "Take {letter} out of line {line}, or choose the plane with G17, G18 or G19 before it"),
    "arc-r-and-centre": Condition(
        _CONFLICT,
        "R and centre letters stand together; controls ignore one or the other",
        "Leave R or the centre letters out of line {line}"),
    # --- values ---
    "value-range": Condition(
        _VALUE,
        "{letter} is {number}, and has to be a whole number from {least} to {most}",
        "Write {letter}{least} to {letter}{most}"),
    "value-too-large": Condition(
        _VALUE,
        "{letter} is {number}: no machine is that large",
        "Correct the word {letter} on line {line}",
        weigh="value-range"),
    "value-negative": Condition(
        _VALUE,
        "{letter} is {number}: a dwell cannot be negative",
        "Write {letter}{positive}"),
    "value-uncalculable": Condition(_VALUE, "{said}", "{do}"),
    "parameter-live": Condition(
        _DOUBT,
        "The value of {letter} is known to the machine only, when it runs",
        "Give that value, for example with --set '#500=3'; without it the moves that depend on it have no "
        "place"),
    "parameter-undefined": Condition(
        _DOUBT,
        "#{number} was never set; it counts as 0 on one control, and drops its word on another",
        "Set #{number} before line {line}"),
    "parameter-twice": Condition(
        _DOUBT,
        "#{number} is set twice on this line, or set and used: which value counts differs from control to "
        "control",
        "Give each setting a line of its own, before the line that uses it"),
    "feed-negative": Condition(_VALUE, "F is {number}: a feed cannot be negative", "Write F{positive}"),
    "speed-negative": Condition(_VALUE, "S is {number}: a speed cannot be negative", "Write S{positive}"),
    "number-no-point": Condition(
        _DOUBT,
        "{letter}{number} has no decimal point: this control takes it for {taken:length}",
        "Write {letter}{number}. if that many units are meant"),
    "number-mixed-points": Condition(
        _DOUBT,
        "Numbers with and without a decimal point stand in one program, and this control counts those "
        "without in its smallest step: {letter}{number} is {taken:length} to it",
        "Write a decimal point in every number: {letter}{number}. where that many units are meant"),
    "parameter-index": Condition(
        _VALUE,
        "#{number} is no parameter: they run from {least} to {most}",
        "Write a whole number from {least} to {most} behind #"),
    "parameter-special": Condition(
        _DOUBT,
        "#{number} is a stored offset: setting it shifts the work with no G code",
        "Use G10 or G92 on line {line} instead, where a reader sees the shift"),
    "feed-missing": Condition("feed-missing", "{does}"),
    "feed-inverse-missing": Condition("feed-missing", "{does}"),
    "no-cutter-chosen": Condition(
        _VALUE,
        "M6 changes the cutter, and no T word says to which",
        "Write T and the cutter's number before M6 on line {line}",
        weigh="m6-without-t"),
    "cutter-unknown": Condition("cutter-unknown"),
    # --- arcs ---
    "arc-radii-differ": Condition(
        _ARC,
        "the radius is {first:fine} at its start and {last:fine} at its end",
        "Correct the end point or the centre letters of line {line} until both radii agree",
        weigh="arc-mismatch"),
    "arc-centre-absolute": Condition(
        _ARC,
        "the radius is {first:fine} at its start and {last:fine} at its end; they agree when {letters} are "
        "read as absolute coordinates",
        "From its start the centre lies at {one}{a:fine} {two}{b:fine}: write that, or put G90.1 before "
        "line {line} where the control has it",
        weigh="arc-mismatch"),
    "arc-centre-counted": Condition(
        _ARC,
        "the radius is {first:fine} at its start and {last:fine} at its end; they agree when {letters} are "
        "read as increments from its start",
        "Put G91.1 before line {line}",
        weigh="arc-mismatch"),
    "arc-no-radius": Condition(
        _ARC,
        "its centre lies on its start, so it has no radius",
        "Give the distance from start to centre in the plane's centre letters on line {line}",
        weigh="arc-radius-zero"),
    "arc-one-point": Condition(
        _ARC,
        "start and end are one point, and R alone names no centre",
        "Write line {line} with centre letters for a whole circle",
        weigh="arc-r-full"),
    "arc-zero-r": Condition(
        _ARC,
        "its R is 0",
        "Give R the arc's radius on line {line}",
        weigh="arc-radius-zero"),
    "arc-r-short": Condition(
        _ARC,
        "R {radius:fine} does not reach half the chord of {chord:fine}",
        "Give R at least {least:fine} on line {line}, or correct its end point"),
    "arc-no-end": Condition(
        _ARC,
        "it names no end point in its plane ({letters})",
        "Write the end's {letters} on line {line}, those of the start for a whole circle"),
    "arc-no-centre": Condition(
        _ARC,
        "it has neither R nor a centre letter of its plane ({letters})",
        "Add R, or {letters}, to line {line}"),
    "arc-quadrant": Condition(
        _ARC,
        "within one quadrant, with I and J as distances, no centre fits its start and its end",
        "Split line {line} where it crosses a quadrant, or choose whole circles (G75) before it",
        weigh="arc-mismatch"),
    "arc-both-letters": Condition(
        _ARC,
        "with G90.1 both centre letters are needed ({letters})",
        "Write {letters} on line {line}",
        weigh="arc-no-centre"),
    "arc-rounded-turn": Condition(
        _DOUBT,
        "The arc's start and end differ by rounding only: a whole circle on one control, nothing on another",
        "Write the start's own coordinates as the end on line {line}",
        weigh="arc-almost-full"),
    "arc-near-half": Condition(
        _DOUBT,
        "An R arc of {turned:angle} is nearly half a circle, where the last digit of R moves the centre far",
        "Write line {line} with centre letters, or as two arcs",
        weigh="arc-ill-conditioned"),
    "arc-near-whole": Condition(
        _DOUBT,
        "An R arc of {turned:angle} is nearly a whole circle, where the last digit of R moves the centre "
        "far",
        "Write line {line} with centre letters, or as two arcs",
        weigh="arc-ill-conditioned"),
    "arc-rounded": Condition(
        _DOUBT,
        "The arc's radii at start and end differ by {difference:fine}, more than rounding gives",
        "Write four decimals for the centre and the end on line {line}"),
    "arc-turns": Condition(
        _VALUE,
        "{letter} counts an arc's turns and is {number}: it has to be a whole number from {least}",
        "Write {letter}1 or more on line {line}"),
    "arc-plane-rare": Condition(
        _DOUBT,
        "The arcs from here on lie in the plane of {plane}, unlike most arcs of the program",
        "See whether G17 should stand before line {line}; the direction of {plane} is easily drawn mirrored"),
    "spline-bad": Condition(
        _VALUE,
        "{code} lacks a word that shapes its curve, or stands outside G17 or under compensation",
        "Write I and J (and P and Q for G5) on line {line}",
        weigh="word-missing"),
    "corner-bad": Condition(
        _VALUE,
        "The corner {word} cannot be made: {why}",
        "Correct {word} on line {line}, or write the corner as a move of its own",
        weigh="word-missing"),
    "spline-open": Condition(
        _VALUE,
        "The curve that G5.2 begins cannot run: it wants G17, X and Y alone, weights over 0, as many points "
        "as its order L, and G5.3 behind the last one",
        "Write G5.3 behind the last control point, before {code} on line {line}",
        weigh="word-missing"),
    "thread-bad": Condition(
        "feed-missing",
        "{code} feeds K for each turn, and K or S is missing",
        "",
        weigh="feed-per-turn-still"),
    # --- cycles ---
    "cycle-no-place": Condition(
        _CYCLE,
        "line {line} has no X, Y or Z",
        "Write the hole's position on line {line}",
        weigh="cycle-no-axes"),
    "cycle-no-bottom": Condition(
        _CYCLE,
        "{code} needs {letter} the first time: how deep the hole is",
        "Add {letter} to line {line}",
        weigh="cycle-data-missing"),
    "cycle-no-r": Condition(
        _CYCLE,
        "{code} needs R the first time: the level to start from",
        "Add R to line {line}",
        weigh="cycle-data-missing"),
    "cycle-no-peck": Condition(
        _CYCLE,
        "{code} needs Q, how deep each peck goes",
        "Add Q to line {line}",
        weigh="cycle-data-missing"),
    "cycle-peck-bad": Condition(
        _CYCLE,
        "Q is {number}: each peck needs a depth over 0",
        "Write Q with the depth of a peck on line {line}",
        weigh="cycle-bad"),
    "cycle-peck-many": Condition(
        _CYCLE,
        "Q makes more than {most} pecks of a hole {deep:length} deep",
        "Write a larger Q on line {line}",
        weigh="cycle-bad"),
    "cycle-no-dwell": Condition(
        _CYCLE,
        "{code} needs P, how long it waits at the bottom",
        "Add P to line {line}, in seconds",
        weigh="cycle-data-missing"),
    "cycle-dwell-bad": Condition(
        _CYCLE,
        "P is {number}: a dwell cannot be negative",
        "Write P with the seconds to wait on line {line}",
        weigh="cycle-bad"),
    "cycle-upward": Condition(
        _CYCLE,
        "its bottom lies {above:length} above R",
        "Write R above the bottom on line {line}",
        weigh="cycle-bad"),
    "cycle-downward": Condition(
        _CYCLE,
        "it bores upward, and its upper end lies {above:length} under its lower one",
        "Write {letter} on line {line} for a boring from below",
        weigh="cycle-bad"),
    "cycle-no-upper": Condition(
        _CYCLE,
        "{code} needs {letter}: how high it bores from below",
        "Add {letter} to line {line}",
        weigh="cycle-data-missing"),
    "cycle-no-shift": Condition(
        _CYCLE,
        "{code} moves its edge off the wall, and no word says how far",
        "Add {letter} (or Q, on controls that take it) to line {line}",
        weigh="cycle-data-missing"),
    "cycle-wrong-way": Condition(
        _CYCLE,
        "{code} taps, and the spindle does not turn as it has to before it ({wanted})",
        "Put {wanted} and S before line {line}",
        weigh="cycle-bad"),
    "cycle-repeats": Condition(
        _CYCLE,
        "{letter} is {number}: repeats are whole numbers from {least}",
        "Write {letter}1 or more on line {line}",
        weigh="repeat-zero"),
    "cycle-inverse-time": Condition(
        _CYCLE,
        "a cycle cannot run with G93 in force",
        "Put G94 and an F word before line {line}",
        weigh="feed-inverse-in-cycle"),
    "cycle-turning-axis": Condition(
        _CYCLE,
        "a turning axis moves on the line of a cycle",
        "Turn it on a line of its own before line {line}",
        weigh="cycle-bad"),
    "cycle-still": Condition(
        _CYCLE,
        "{code} stops the spindle in the hole, and it does not turn",
        "Put M3 and S before line {line}",
        weigh="cycle-bad"),
    "sticky-changed": Condition(
        _DOUBT,
        "{letter} was written under the other of G90 and G91: the kept number now means another place",
        "Write {letter} again on line {line}"),
    "cycle-left-on": Condition(
        _DOUBT,
        "{code} is still in force: {letter} alone drills here once more, to that depth",
        "Put G80 before line {line}, and G0 on it, if it is to be a plain move"),
    "by-hand": Condition(
        _DOUBT,
        "{code} leaves the cutter at the bottom for the operator to draw it out by hand",
        "Use G81 or G85 on line {line}, unless someone is to stand there; it was read as a rapid retract"),
    "repeat-absolute": Condition(
        _DOUBT,
        "{letter}{number} with G90 drills the same hole {number} times",
        "Put G91 before line {line}, or take {letter} out"),
    "probe": Condition(
        _DOUBT,
        "{code} moves until a signal comes: where it ends is known to the machine only",
        "Give what it measures, for example with --set '#5063=0', and command X, Y and Z behind line {line}"),
    "probe-turning": Condition(
        _DOUBT,
        "The spindle turns while {code} probes: the probe breaks",
        "Put M5 and a dwell before line {line}",
        weigh="probe"),
    "probe-near": Condition(
        _VALUE,
        "{code} starts {near:fine} from its target; nearer than {least:fine} a probe may not tell true",
        "Start line {line} farther away",
        weigh="probe"),
    "probe-further": Condition(
        _VALUE,
        "A turning axis moves while {code} probes",
        "Take {letter} out of line {line}",
        weigh="probe"),
    "transform-bad": Condition(
        _VALUE,
        "{code} is not wholly written: how far it scales or turns is not said",
        "Write its factor (P) or its angle (R) on line {line}",
        weigh="word-missing"),
    "arc-warped": Condition(
        _ARC,
        "scaling by different factors makes it an oval",
        "Scale X and Y alike before line {line}",
        weigh="arc-mismatch"),
    # --- cutter radius compensation ---
    "compensation-on": Condition(
        "compensation-bad",
        "{code} stands where compensation is already on",
        "Put G40 before line {line}",
        weigh="compensation-bad"),
    "compensation-plane": Condition(
        "compensation-bad",
        "{code} goes with G17 and no mirroring, scaling or rotation",
        "Put G17, G50 and G69 before line {line}",
        weigh="compensation-bad"),
    "compensation-while": Condition(
        "compensation-bad",
        "{code} cannot stand where compensation is on",
        "Put G40 before line {line}",
        weigh="compensation-bad"),
    "compensation-entry": Condition(
        "compensation-bad",
        "the first move is {way:length} long, and the cutter's radius {cutter:length}: it is beyond the "
        "contour already",
        "Begin more than {cutter:length} away from the first point",
        weigh="compensation-bad"),
    "compensation-entry-arc": Condition(
        "compensation-bad",
        "the first move after G41 or G42 is an arc",
        "Lead in with a straight line on line {line}",
        weigh="compensation-bad"),
    "compensation-concave": Condition(
        "compensation-bad",
        "the cutter's radius of {cutter:length} does not fit into an arc of {radius:length}",
        "Use a cutter of a radius under {radius:length}",
        weigh="compensation-bad"),
    "compensation-inside": Condition(
        "compensation-bad",
        "the cutter's radius of {cutter:length} does not reach into the inside corner before line {line}",
        "Round the corner with an arc of a radius over {cutter:length}",
        weigh="compensation-bad"),
    "compensation-gouge": Condition(
        "compensation-bad",
        "beside line {other} the cutter cuts {deep:length} into the contour of line {line}: its radius of "
        "{cutter:length} does not fit there",
        "Use a narrower cutter, or widen the contour between lines {line} and {other}"),
    "compensation-left-on": Condition(
        _DOUBT,
        "Cutter radius compensation is still on at {code}: the old radius stays in force",
        "Put G40 before line {line}"),
    # --- offsets, home, cutters ---
    "home-absolute": Condition(
        _DOUBT,
        "With G90 in force {code} first goes to {written} of the work offset, and then home",
        "Write G91 {code} with zeros on line {line}, which goes home straight, and G90 after it"),
    "length-of-other": Condition(
        _DOUBT,
        "H{number} is not the length of cutter {cutter} in the spindle: its tip goes {off:length} {side} "
        "than Z says",
        "Write H{cutter} on line {line}"),
    "length-of-another": Condition(
        _DOUBT,
        "H{number} is called for with cutter {cutter} in the spindle: its length is another cutter's, unless "
        "the table says otherwise",
        "Write H{cutter} on line {line}, or see what row {number} of the control's table holds",
        weigh="length-of-other"),
    "length-written": Condition(
        _DOUBT,
        "G43.1 writes another length than the job gives cutter {cutter}: its tip goes {off:length} {side} "
        "than Z says",
        "Correct the length on line {line}, or the cutter's length in the job",
        weigh="length-of-other"),
    "length-negative": Condition(
        _DOUBT,
        "G44 takes the length of H{number} off, where G43 adds it: right only where the table holds lengths "
        "below zero",
        "Write G43 H{number} on line {line} unless the control's lengths are negative",
        weigh="length-of-other"),
    "length-not-renewed": Condition(
        "cutter-doubtful",
        "The cutter was changed to {cutter}, and the length offset of H{number} is still in force",
        "Put G43 H{cutter} before line {line}"),
    "t-without-m6": Condition(
        _DOUBT,
        "T{number} chooses a cutter, and no M6 changes it: the one before is still in the spindle",
        "Put M6 on line {line}, if the control changes cutters with M6"),
    "g92-restored": Condition(
        _DOUBT,
        "G92.3 brings back an offset that an earlier program left in the control",
        "Set the offset in this program with G92, or use G54 to G59 instead of line {line}"),
    "offset-left": Condition(
        _DOUBT,
        "The program ends with G92 or G52 in force: the next one starts shifted",
        "Put G92.1, or G52 with zeros, before line {line}"),
    "offset-stored": Condition(
        _DOUBT,
        "G10 sets {named}, and the control keeps that when the program is over: the next one starts there",
        "Set {named} once at the machine, or give it back its old place before line {line}",
        weigh="offset-left"),
    "units-changed": Condition(
        _DOUBT,
        "The unit changes after the first move, and the meaning of F and of offsets with it",
        "Use one unit in the whole program: take {code} out of line {line}"),
    "spindle-stops-before-motion": Condition(
        _DOUBT,
        "{code} stops the spindle before the move of its line: the cutter may still stand in the cut",
        "Give {code} a line of its own behind the retract"),
    "spindle-no-speed": Condition(
        _DOUBT,
        "{code} starts the spindle with no speed given: it does not turn, or turns as it last did",
        "Write S and a speed on line {line}, for example S12000"),
    "dwell-long": Condition(
        _DOUBT,
        "G4 waits {long:time} here; read as milliseconds it would be {short:time}",
        "Write {letter}{number} if {short:time} are meant"),
    # --- the program as a whole ---
    "block-delete": Condition(
        "option-switch",
        "A slash makes this line optional, and the block delete switch {switch}",
        "Take line {line} or its slash out, or check the job with the switch in both positions"),
    "text-after-end": Condition(
        _DOUBT,
        "Lines stand after the program's end; a control runs them only where they are called",
        "Take them out from line {line} on, unless they are subprograms"),
    "programs-more": Condition(
        _DOUBT,
        "The file holds {count} more program{s} ({named}); only {this} was run",
        "{how}"),
    "no-end": Condition(
        "end-missing",
        "The program has no M30 or M2: its tail may be missing",
        "Put M30 in the last line, and see whether the file is whole"),
    "spindle-left-on": Condition(
        "end-missing",
        "The program's lines end with the spindle still turning",
        "Put M5 and M30 after line {line}"),
    # --- program flow ---
    "label-missing": Condition(
        "flow-missing",
        "{label} is called or jumped to, and stands nowhere in the program",
        "Write {label} where it belongs, or correct line {line}",
        weigh="flow-missing"),
    "sub-missing": Condition(
        "flow-missing",
        "{label} is called and is not in this file",
        "Put its lines into the file, or correct line {line}",
        weigh="flow-missing"),
    "program-missing": Condition(
        "flow-missing",
        "{label} is to be run, and the file holds {named}",
        "Give the stage the number of a program of its file",
        weigh="flow-missing"),
    "flow-unbalanced": Condition(
        "flow-missing",
        "{step} on line {line} has no partner: what it opens is not closed, or the other way round",
        "Look for its partner's label and number"),
    "flow-deep": Condition(
        "flow-endless",
        "more than {most} calls stand in one another",
        "See whether a subprogram calls itself without end on line {line}"),
    "flow-steps": Condition(
        "flow-endless",
        "{most} lines were run again and none of them moved",
        "See what is to end the loop at line {line}",
        weigh="flow-endless"),
    "flow-moves": Condition(
        "flow-endless",
        "more than {most} moves were made",
        "See what is to end the loop at line {line}; where so many are meant, allow them with --steps",
        weigh="flow-endless"),
    "flow-away": Condition(
        "flow-endless",
        "the loop at line {line} has led more than 100 m away, where no machine goes",
        "See what is to end the loop at line {line}, and where its moves are to go",
        weigh="flow-endless"),
    "flow-repeats": Condition(
        "flow-endless",
        "no turn of the loop at line {line} brings its end nearer",
        "See what is to end the loop at line {line}",
        weigh="flow-endless"),
    "flow-main-loops": Condition(
        "flow-endless",
        "M99 in the main program begins it anew, for ever",
        "Put M30 in place of M99 on line {line}, unless it is to run until it is stopped",
        weigh="flow-endless"),
    "flow-main-ends": Condition(
        _DOUBT,
        "M99 in the main program: it was read as its end; many controls begin the program anew, for ever",
        "Put M30 in place of M99 on line {line}, unless it is to run until it is stopped",
        weigh="m98-two-ways"),
    "flow-unknown": Condition(
        _DOUBT,
        "Which way the program goes here is known to the machine only; it was read as if the condition did "
        "not hold",
        "Give the value, for example with --set '#500=3'",
        weigh="parameter-live"),
    "label-twice": Condition(
        _DOUBT,
        "{label} stands twice, and this line jumps to it: controls take the next one or the first",
        "Give each line that is jumped to a number of its own"),
    "m98-two-ways": Condition(
        _DOUBT,
        "P{number} is program {number} on one control, and {times} runs of program {program} on another",
        "Write M98 P{program} L{times}, or give the program a number of four digits"),
    "modes-changed-in-call": Condition(
        _DOUBT,
        "The subprogram came back with another unit, plane, work offset or G90/G91 than it was called with",
        "Put the modes that the caller needs behind the call, or before line {line}"),
    **{f"{what}-unset": Condition("start-state")
       for what in ("units", "distance", "system", "feed-mode", "plane", "return")},
    "key-decides": Condition(
        _DOUBT,
        "Controls differ in this: {says}. Read as {taken} here; as {value} the machine moves elsewhere from "
        "line {line} on{where}",
        "See how your control does it, and say so in a dialect: {key} = {value} or {taken}"),
    # --- why a place is not known ---
    "lost-start": Condition(
        _UNPLACED,
        "the program has not said yet where the cutter is",
        "Begin with G90 and a rapid of Z alone, then X and Y; or give the stage's start = [x, y, z]"),
    "lost-machine": Condition(
        _UNPLACED,
        "it goes to a machine position, and where that is on the board is not given",
        "Give machine.origin = [x, y, z] in the job, or go to a position of the work offset instead"),
    "lost-home": Condition(
        _UNPLACED,
        "it goes to the machine's stored home position, which is not given",
        "Give machine.origin = [x, y, z] in the job, or go to a position of the work offset instead"),
    "lost-value": Condition(
        _UNPLACED,
        "a value that it depends on is not known here",
        "Give that value, for example with --set '#500=3'"),
    "lost-length": Condition(
        _UNPLACED,
        "the length of the cutter that was changed in on line {line} is not given",
        "Give each cutter's length in the job, or command Z right after line {line}"),
    "lost-change": Condition(
        _UNPLACED,
        "the change of the cutter on line {line} moves the axes, and where to is the machine's",
        "Command X, Y and Z behind line {line}, Z alone first"),
    "lost-row": Condition(
        _UNPLACED,
        "the length in row {number} of the control's table, which line {line} adds, is not given",
        "Give the job a cutter with number {number} and that length"),
    "lost-offset": Condition(
        _UNPLACED,
        "where {code} has its zero is not given",
        "Give zeros.\"{code}\" = [x, y, z] in the job"),
    "lost-register": Condition(
        _UNPLACED,
        "{code} on line {line} sets the offset by machine coordinates, and where those lie on the board is "
        "not given",
        "Give machine.origin = [x, y, z] in the job"),
    "lost-here": Condition(
        _UNPLACED,
        "{code} on line {line} sets the zero where the cutter stands, and that is not known",
        "Give the stage's start = [x, y, z], where the cutter stands at the program's start"),
    "lost-unread": Condition(
        _UNPLACED,
        "line {line} could not be read, and what it moves is not known",
        "Correct line {line}"),
    "lost-bad": Condition(
        _UNPLACED,
        "line {line} cannot be carried out as it is written",
        "Correct line {line}"),
    "lost-flow": Condition(
        _UNPLACED,
        "which way the program goes on line {line} is known to the machine only",
        "Give the value, for example with --set '#500=3'"),
    "lost-call": Condition(
        _UNPLACED,
        "{label} is called on line {line} and is not in this file",
        "Put its lines into the file"),
    "lost-code": Condition(
        _UNPLACED,
        "{code} on line {line} is not simulated ({does})",
        "Check by hand what {code} does, or take it out of line {line}"),
    "lost-probe": Condition(
        _UNPLACED,
        "{code} on line {line} ends where only the machine knows",
        "Command X, Y and Z behind line {line}"),
    "lost-diameter": Condition(
        _UNPLACED,
        "{code} on line {line} shifts the path by a cutter radius that is not given",
        "Give the cutter's diameter in the job, and D with the cutter's number on line {line}"),
    "lost-contour": Condition(
        _UNPLACED,
        "the contour on line {line} cannot be followed by this cutter",
        "Correct the contour at line {line}"),
    "lost-axis": Condition(
        _UNPLACED,
        "axis {letter} moved on line {line}, and only X, Y and Z are simulated",
        "Keep {letter} at 0"),
    "lost-arc": Condition(
        _UNPLACED,
        "the arc on line {line} cannot be drawn",
        "Correct the arc on line {line}"),
    "lost-cycle": Condition(
        _UNPLACED,
        "the cycle on line {line} cannot run",
        "Correct the cycle on line {line}"),
    "lost-level": Condition(
        _UNPLACED,
        "the cycle returns to the height that it started from, which is not known",
        "Command Z before line {line}, or put G99 before it"),
})
