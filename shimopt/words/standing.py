"""How the gaps of a plan stand, worked out of all of them at once, for what is then said gap by gap."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from typing import NamedTuple

from shimopt.planner import Decision
from shimopt.reasons import Reason
from shimopt.reasons.shared_reasons import TogetherOutside
from shimopt.seats import Finding
from shimopt.words.doubt_words import doubted
from shimopt.words.first_words import in_and_wrong, open_gaps, read_again, unanswered, waiting_to_be_fitted
from shimopt.words.found_words import find_out_first
from shimopt.words.outside_words import spoiled, windows_fighting


# each is worked out once, of all gaps
class Standing(NamedTuple):
    """The gaps of which something is `open`, has to be found out (`find_out`) or is asked (`unanswered`).

    `doubted` whose reading, or a size behind it, is measured again first, so that nothing is told of what is done, nor
    of those that wait until windows and readings are looked at (`waits`). Those that the work takes further out
    (`spoiled`) or whose windows fight (`fights`); places in which something is that must not be there (`wrong`);
    `reasons` by what they are about, `findings` by place.
    """

    open: Collection[str]
    find_out: Collection[str]
    unanswered: Collection[str]
    spoiled: Mapping[str, TogetherOutside]
    fights: Mapping[str, tuple[str, ...]]
    wrong: Collection[str]
    reasons: Mapping[str, Sequence[Reason]]
    findings: Mapping[str, Sequence[Finding]]
    doubted: Mapping[str, str]
    waits: Collection[str]

    @property
    def untold(self) -> set[str]:
        """The gaps of which nothing is told of what is done, for nothing is yet."""
        return {*self.find_out, *self.doubted, *self.waits}

    @classmethod
    def of(cls, decision: Decision) -> Standing:
        """That of a plan."""
        reasons, findings = defaultdict[str, list[Reason]](list), defaultdict[str, list[Finding]](list)
        for reason in decision.reasons:
            reasons[reason.about].append(reason)
        for finding in decision.findings:
            findings[finding.place].append(finding)
        return cls(
            open_gaps(decision),
            frozenset(find_out_first(decision)),
            unanswered(decision),
            spoiled(decision),
            windows_fighting(decision),
            in_and_wrong(decision),
            reasons,
            findings,
            doubted(decision),
            frozenset(waiting_to_be_fitted(decision)),
        )


def stands_as_read(decision: Decision) -> list[str]:
    """The gaps for which nothing is done yet, whatever is planned: they stand as they were read."""
    waits, looked_into = {*waiting_to_be_fitted(decision)}, {*find_out_first(decision)} - read_again(decision)
    looked_into = {name for name in looked_into if not decision.job.untold(name)}
    return [gap.name for gap in decision.job.gaps if gap.name in waits | looked_into]
