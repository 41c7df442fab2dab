"""Keys that make a request act once: who claims first acts, whatever two clocks say of the moment."""

from __future__ import annotations

import threading

from shops import TestShop

from verifier import records


def test_a_claim_made_a_moment_later_by_another_clock_still_counts(t: TestShop) -> None:
    assert records.claim_answer(t.shop, t.ann, "key", "request").kind == "new"
    t.clock.now -= 5_000_000
    assert records.claim_answer(t.shop, t.ann, "key", "request").kind == "running"


def test_a_claim_lapses_after_two_minutes(t: TestShop) -> None:
    records.claim_answer(t.shop, t.ann, "key", "request")
    t.clock.now += 121_000_000
    assert records.claim_answer(t.shop, t.ann, "key", "request").kind == "new"


def test_of_many_at_the_same_moment_one_claims(t: TestShop) -> None:
    for k in range(20):
        kinds: list[str] = []
        gate = threading.Barrier(4)

        def claim(key: str, kinds: list[str], gate: threading.Barrier) -> None:
            gate.wait(30)
            kinds.append(records.claim_answer(t.shop, t.ann, key, "request").kind)
            t.shop.close_thread()

        threads = [threading.Thread(target=claim, args=(f"key {k}", kinds, gate)) for _ in range(4)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert sorted(kinds) == ["new", "running", "running", "running"]
