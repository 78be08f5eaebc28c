"""The sentences of every finding, step, check and cause, tables for each age."""

from collections.abc import Mapping

from api.wording.ages_6_8 import AGES_6_8
from api.wording.ages_9_12 import AGES_9_12
from api.wording.ages_13 import AGES_13
from api.wording.dialogue_6_8 import DIALOGUE_6_8
from api.wording.dialogue_9_12 import DIALOGUE_9_12
from api.wording.dialogue_13 import DIALOGUE_13
from api.wording.sentences import Age, Dialogue, Sentences

TABLES: Mapping[Age, Sentences] = {"6-8": AGES_6_8, "9-12": AGES_9_12, "13+": AGES_13}
DIALOGUES: Mapping[Age, Dialogue] = {"6-8": DIALOGUE_6_8, "9-12": DIALOGUE_9_12, "13+": DIALOGUE_13}
