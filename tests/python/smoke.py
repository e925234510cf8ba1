"""Another language's client against the real server: reflection, health, three questions.

Messages are built from what reflection tells; no generated code is used. The binary is built by
cargo unless DYEKIN_SERVER names one.
"""

import os
import pathlib
import subprocess
import sys
import tempfile
import time

import grpc
from google.protobuf import descriptor_pool, json_format, message_factory
from grpc_health.v1 import health_pb2, health_pb2_grpc
from grpc_reflection.v1alpha.proto_reflection_descriptor_database import (
    ProtoReflectionDescriptorDatabase,
)

from built import ROOT, binary

PATIENCE = 30.0


def server_binary():
    """Path of the server's binary."""
    return os.environ.get("DYEKIN_SERVER") or binary("dyekin-server")


class Server:
    """The real binary over the example tables, on a port of its own."""

    def __init__(self, path, folder):
        self.file = pathlib.Path(folder) / "address"
        arguments = ["--listen", "127.0.0.1:0", "--tables", str(ROOT / "data")]
        self.process = subprocess.Popen(
            [path, *arguments, "--address-file", str(self.file), "--log", "warn"]
        )

    def address(self):
        end = time.monotonic() + PATIENCE
        while not self.file.exists():
            if self.process.poll() is not None or time.monotonic() > end:
                raise SystemExit("the server does not serve")
            time.sleep(0.01)
        return self.file.read_text().strip()

    def stop(self):
        self.process.terminate()
        return self.process.wait(PATIENCE)


class Client:
    """Calls any method by its name with a dict, through reflection."""

    def __init__(self, channel):
        self.channel = channel
        self.reflection = ProtoReflectionDescriptorDatabase(channel)
        self.pool = descriptor_pool.DescriptorPool(self.reflection)

    def method(self, service, name):
        return self.pool.FindServiceByName(f"dyekin.v1.{service}").methods_by_name[name]

    def call(self, service, name, request):
        method = self.method(service, name)
        message = json_format.ParseDict(
            request, message_factory.GetMessageClass(method.input_type)()
        )
        reply = message_factory.GetMessageClass(method.output_type)
        path = f"/dyekin.v1.{service}/{name}"
        kind = self.channel.unary_stream if method.server_streaming else self.channel.unary_unary
        send = kind(
            path,
            request_serializer=lambda sent: sent.SerializeToString(),
            response_deserializer=reply.FromString,
        )
        answer = send(message, timeout=PATIENCE)
        as_dict = lambda one: json_format.MessageToDict(one, preserving_proto_field_name=True)
        return [as_dict(one) for one in answer] if method.server_streaming else as_dict(answer)


def check_reflection(client):
    names = set(client.reflection.get_services())
    for wanted in ("MatchingService", "PaletteService", "TableService"):
        assert f"dyekin.v1.{wanted}" in names, names
    assert "grpc.health.v1.Health" in names, names


def check_health(channel):
    stub = health_pb2_grpc.HealthStub(channel)
    for service in ("", "dyekin.v1.MatchingService", "dyekin.v1.TableService"):
        answer = stub.Check(health_pb2.HealthCheckRequest(service=service), timeout=PATIENCE)
        assert answer.status == health_pb2.HealthCheckResponse.SERVING, (service, answer)


def check_match(client):
    request = {
        "queries": [{"color": {"hex": "#4a6b3c"}, "query_id": "moss"}],
        "options": {"count": 3},
    }
    answer = client.call("MatchingService", "MatchColors", request)
    result = answer["results"][0]
    assert result["query_id"] == "moss", result
    differences = [match["difference"]["delta_e"] for match in result["matches"]]
    assert len(differences) == 3 and differences == sorted(differences), differences
    assert answer["formula"]["kind"] == "FORMULA_KIND_CIEDE2000", answer["formula"]
    assert all(len(table["content_hash"]) == 64 for table in answer["tables"])


def check_compare(client):
    pair = {"standard": {"hex": "#000000"}, "sample": {"hex": "#ffffff"}}
    request = {"pairs": [pair], "formula": {"kind": "FORMULA_KIND_CIE76"}}
    answer = client.call("MatchingService", "CompareColors", request)
    difference = answer["comparisons"][0]["difference"]
    # L* of white less L* of black, by the definition of CIELAB.
    assert abs(difference["delta_e"] - 100.0) < 1e-3, difference
    assert difference["trust"] == "TRUST_ROUGH", difference


def check_reduce(client):
    colors = [f"#{red:02x}{green:02x}40" for red in range(0, 250, 50) for green in (30, 90, 200)]
    palette = {"colors": [{"color": {"hex": text}, "stitch_count": 100} for text in colors]}
    request = {"palette": palette, "max_thread_count": 6}
    *progress, last = client.call("PaletteService", "ReducePalette", request)
    assert all("progress" in one for one in progress), progress
    totals = last["change_list"]["totals"]
    assert totals["color_count"] == len(colors), totals
    assert totals["thread_count"] <= 6, totals


def check_refusal(client):
    request = {"queries": [{"color": {"hex": "reddish"}}]}
    try:
        client.call("MatchingService", "MatchColors", request)
    except grpc.RpcError as error:
        assert error.code() == grpc.StatusCode.INVALID_ARGUMENT, error
        assert "queries[0].color.hex" in error.details(), error.details()
        details = dict(error.trailing_metadata())["grpc-status-details-bin"]
        assert b"COLOR_INVALID" in details, details
    else:
        raise AssertionError("a word that is no color was taken for one")


def main():
    checks = [check_match, check_compare, check_reduce, check_refusal]
    with tempfile.TemporaryDirectory() as folder:
        running = Server(server_binary(), folder)
        try:
            with grpc.insecure_channel(running.address()) as channel:
                client = Client(channel)
                check_reflection(client)
                check_health(channel)
                for check in checks:
                    check(client)
        finally:
            code = running.stop()
    assert code == 0, code
    print(f"{len(checks) + 2} passed, 0 failed")


if __name__ == "__main__":
    sys.exit(main())
