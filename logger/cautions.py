"""The cautions, in one place: what every screen, report and guided move says. Plain sentences, nothing else.

Footroom is for fit, teaching and research. What is said here follows common clinical lists (contraindications to
range-of-motion testing, urgent signs of foot, ankle, calf and back); licensed practice and local rules come first.
"""

from __future__ import annotations

CAUTION = (
    "Footroom is for fit, teaching and research. It is not a medical device: no diagnosis, no treatment, no injury "
    "prediction. Published norms are not targets. Stop on pain, and see a clinician if it stays or comes back."
)
CONTRAINDICATIONS = (
    "Not after recent surgery, a fracture or dislocation, with a hot or swollen, unstable or hypermobile joint, "
    "fragile bones or a bleeding disorder, or after long immobilisation, without a clinician. Stop when pain is above "
    "3 of 10 or rises."
)
REFER = (
    "See a clinician soon, and do not measure, for a hot, swollen joint with fever, a leg that cannot bear weight, "
    "numbness or a change of colour, a sudden kick in the calf, a calf that swells or hurts at rest, or back pain with "
    "numbness in the saddle area, weak legs or trouble with bladder or bowel. Make an appointment for pain that stays "
    "longer than a week or two or returns with every session, for locking, and for cramping or curling toes only when "
    "playing."
)
STOP_TODAY = (
    "If a foot cramps, no longer does what you want, or hurts: stop for today. If it comes back, see a clinician, best "
    "one who knows musicians."
)
"""For signs of tiring, and wherever somebody plays."""
MINORS = "Under age: a guardian's consent and the child's own yes are needed, and an adult stays by."
LOCAL_RULES = "Licensed practice and local rules come first."
