"""Where cargo puts the binaries of the project."""

import json
import pathlib
import subprocess

ROOT = pathlib.Path(__file__).resolve().parents[2]


def binary(name):
    """Path of a binary, built now if it is not yet."""
    command = ["cargo", "build", "--locked", "--workspace", "--bins", "--message-format=json"]
    built = subprocess.run(command, cwd=ROOT, check=True, stdout=subprocess.PIPE, text=True)
    for line in built.stdout.splitlines():
        message = json.loads(line)
        if message.get("executable") and message["target"]["name"] == name:
            return message["executable"]
    raise SystemExit(f"cargo built no {name}")
