"""A client generated from openapi/loopwright.json plans an example, and its plan is the one that is checked in.

Usage: client.py URL, with the generated package `loopwright_client` on the path.
"""

import json
import pathlib
import sys

from loopwright_client import Client
from loopwright_client.api.examples import list_examples, read_example
from loopwright_client.api.planning import judge_plan, plan_cell
from loopwright_client.models import JudgeRequest, JudgeRequestPlan


def main() -> None:
    client = Client(base_url=sys.argv[1], timeout=60)
    names = [item.id for item in list_examples.sync(client=client).items]
    assert "wraparound-glue" in names, names
    cell = read_example.sync("wraparound-glue", client=client)
    answer = plan_cell.sync_detailed(client=client, body=cell, wait_s=30.0)
    assert answer.status_code == 200, answer
    plan = json.loads(answer.content)
    kept = pathlib.Path(__file__).parents[2] / "examples" / "wraparound-glue.plan.json"
    assert plan == json.loads(kept.read_text()), "the plan differs from examples/wraparound-glue.plan.json"
    judged = judge_plan.sync(client=client, body=JudgeRequest(cell=cell, plan=JudgeRequestPlan.from_dict(plan)))
    assert judged.to_dict()["status"] == "holds", judged
    print(f"a generated client read {len(names)} examples, planned wraparound-glue and judged its plan")


if __name__ == "__main__":
    main()
