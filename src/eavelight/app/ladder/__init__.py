"""The work at the wall as questions: one at a time, in the order of the job.

Questions follow from the plan alone; an answer becomes one observation of the record,
or an exception that says why there is none.
"""

from eavelight.app.ladder.answers import AnswerError, Sent, answer, upload
from eavelight.app.ladder.progress import Progress, progress_of
from eavelight.app.ladder.questions import STAGES, Question, questions_of

__all__ = [
    "STAGES",
    "AnswerError",
    "Progress",
    "Question",
    "Sent",
    "answer",
    "progress_of",
    "questions_of",
    "upload",
]
