from __future__ import annotations

from auditor.audit.pairing import possible_pairings
from auditor.model.log import parse_log
from tests.kits import small_kit

STACK = "m42-tube-10+m42-plain"


def test_a_stack_may_have_been_used_where_the_log_or_an_answer_names_it() -> None:
    kit = small_kit()
    log = parse_log(
        f"start,body,lens,adapter\n2026-05-02 10:00,one,orla-50,{STACK}\n2026-05-02 11:00,one,,\n", kit
    ).rows
    plain = possible_pairings(kit, ())
    assert STACK not in {pairing.adapter_id for pairing in plain}
    assert {p.adapter_id for p in possible_pairings(kit, log)} == {p.adapter_id for p in plain} | {STACK}
    assert possible_pairings(kit, (), stacks=[STACK]) == possible_pairings(kit, log)
