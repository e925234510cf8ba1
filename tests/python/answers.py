"""What `dyekin check` answers, against the schemas of its formats, by the package jsonschema.

The SARIF log against the JSON Schema of SARIF 2.1.0 that OASIS publishes, which
`tests/data/reference/sarif-2.1.0.schema.json` holds; the object of --json against
`client/answers.schema.json`. URIs in the log are read by urllib and must lead back to the file.
"""

import json
import os
import pathlib
import subprocess
import sys
import tempfile
import urllib.parse

import jsonschema

from built import ROOT, binary

DATA = ROOT / "tests" / "data"
CHARTS = ["cli/mill.json", "cli/buoy.png", "cli/bridge.csv", "cli/bridge-key.csv"]
TABLES = ["cli/stall.csv", "cli/pond.csv"]
# Names that hurt: blanks, URI and SARIF syntax, controls, bytes that are no UTF-8.
HOSTILE = [b"a b#c?d%41.json", b"[link](1) {0}.json", b"c:chart.json", b"-q.json", b"\x1b[2J.json", b"\xff\xfe.json"]


def validator(path):
    schema = json.loads(pathlib.Path(path).read_text(encoding="utf-8"))
    kind = jsonschema.validators.validator_for(schema)
    kind.check_schema(schema)
    return kind(schema)


def answer(dyekin, folder, arguments):
    """Standard output of a run as JSON; no control character may be in it but line ends."""
    command = [dyekin, "check", "--quiet", *arguments]
    run = subprocess.run(command, cwd=folder, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    assert run.returncode == 0, (command, run.stderr)
    text = run.stdout.decode("utf-8")
    assert all(character == "\n" or character >= " " for character in text), command
    return json.loads(text)


def fits(schema, value, what):
    problems = [error.message for error in schema.iter_errors(value)]
    assert not problems, (what, problems[:3])


def check_logs(dyekin, sarif):
    tables = [part for table in TABLES for part in ("--table", table)]
    for chart in CHARTS:
        more = ["--from", "cli/pond.csv"] if chart.endswith(".csv") else []
        log = answer(dyekin, DATA, [chart, *tables, *more, "--sarif"])
        fits(sarif, log, chart)
        (run,) = log["runs"]
        rules = [rule["id"] for rule in run["tool"]["driver"]["rules"]]
        assert run["results"], chart
        (artifact,) = run["artifacts"]
        for result in run["results"]:
            assert rules[result["ruleIndex"]] == result["ruleId"], result
            location = result["locations"][0]["physicalLocation"]
            assert location["artifactLocation"] == artifact["location"], result


def check_a_profile_reaches_the_log(dyekin, sarif):
    with tempfile.TemporaryDirectory() as folder:
        profile = pathlib.Path(folder) / "shop.toml"
        profile.write_text('[thread-gone]\ndegree = "off"\n[near-colors]\ndegree = "fix"\n')
        arguments = ["cli/mill.json", "--table", "cli/stall.csv", "--profile", profile, "--sarif"]
        log = answer(dyekin, DATA, arguments)
    fits(sarif, log, "profile")
    (run,) = log["runs"]
    levels = {rule["id"]: rule["defaultConfiguration"] for rule in run["tool"]["driver"]["rules"]}
    assert levels["thread-gone"]["enabled"] is False, levels
    found = {(result["ruleId"], result["level"]) for result in run["results"]}
    assert ("near-colors", "error") in found, found
    assert not any(rule == "thread-gone" for rule, _ in found), found


def check_hostile_names(dyekin, sarif):
    chart = (DATA / "cli" / "mill.json").read_bytes()
    chart = chart.replace(b"Wheel Tar", b"[x](2) {1} \\u001b[2J")
    with tempfile.TemporaryDirectory() as folder:
        table = pathlib.Path(folder) / "stall.csv"
        table.write_bytes((DATA / "cli" / "stall.csv").read_bytes())
        for name in HOSTILE:
            path = os.path.join(os.fsencode(folder), name)
            with open(path, "wb") as file:
                file.write(chart)
            typed = b"./" + name if name.startswith(b"-") else name
            log = answer(dyekin, folder, [typed, "--table", "stall.csv", "--sarif"])
            fits(sarif, log, name)
            (run,) = log["runs"]
            uri = run["artifacts"][0]["location"]["uri"]
            parts = urllib.parse.urlsplit(uri)
            assert not parts.scheme and not parts.netloc and not parts.query, uri
            back = urllib.parse.unquote_to_bytes(parts.path)
            assert os.path.normpath(back) == name, (uri, name)
            texts = [result["message"]["text"] for result in run["results"]]
            assert any("\\[x\\](2) {{1}}" in text for text in texts), texts


def check_objects(dyekin, own):
    for chart in CHARTS:
        more = ["--from", "cli/pond.csv"] if chart.endswith(".csv") else []
        value = answer(dyekin, DATA, [chart, "--table", "cli/stall.csv", *more, "--json"])
        fits(own, value, chart)
        assert value["question"] == "check", value


def main():
    dyekin = binary("dyekin")
    sarif = validator(DATA / "reference" / "sarif-2.1.0.schema.json")
    own = validator(ROOT / "client" / "answers.schema.json")
    check_logs(dyekin, sarif)
    check_a_profile_reaches_the_log(dyekin, sarif)
    check_hostile_names(dyekin, sarif)
    check_objects(dyekin, own)
    broken = {"version": "2.1.0", "runs": [{"tool": {}}]}
    assert list(sarif.iter_errors(broken)), "a log without a driver must not fit"
    print("5 passed, 0 failed")


if __name__ == "__main__":
    sys.exit(main())
