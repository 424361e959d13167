"""The cluster manifests: valid by the published schemas, consistent, and as strict as they claim.

Rendering needs ``kubectl``; where there is none the files of the bases are read as they stand, which is
all that rendering changes but the image's name, and overlays are left to a machine that has it.
"""

from __future__ import annotations

import re
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import kubernetes_validate
import pytest
import yaml

from service.edge.settings import Settings
from service.reference.prepared import ENVIRONMENT_VARIABLE

ROOT = Path(__file__).parents[3]
FOLDER = ROOT / "deploy" / "kubernetes"
SETS = {"service": FOLDER / "service" / "base", "batch": FOLDER / "batch"}
OVERLAYS = sorted(path.parent for path in FOLDER.glob("*/overlays/*/kustomization.yaml"))
RENDERED = pytest.mark.skipif(shutil.which("kubectl") is None, reason="kubectl is not installed")
#: The first version that knows every field used (a pause before stopping), and the newest with schemas.
VERSIONS = ("1.30", kubernetes_validate.latest_version().rpartition(".")[0])

Document = dict[str, Any]


def documents(name: str) -> list[Document]:
    """Every document of the files that a kustomization lists."""
    listed = yaml.safe_load((SETS[name] / "kustomization.yaml").read_text("utf-8"))
    return [
        document
        for file in listed["resources"]
        for document in yaml.safe_load_all((SETS[name] / file).read_text("utf-8"))
    ]


def rendered(folder: Path) -> dict[tuple[str, str], Document]:
    """What a cluster is given, by kind and name."""
    text = subprocess.run(["kubectl", "kustomize", folder], check=True, capture_output=True, text=True).stdout
    return {(d["kind"], d["metadata"]["name"]): d for d in yaml.safe_load_all(text)}


def containers(document: Document) -> list[Document]:
    """Of a document that has pods, their containers; of any other none."""
    pod = document.get("spec", {}).get("template", {}).get("spec", {})
    return [*pod.get("initContainers", []), *pod.get("containers", [])]


def of_kind(kind: str) -> Iterator[tuple[str, Document]]:
    for name in SETS:
        yield from ((name, d) for d in documents(name) if d["kind"] == kind)


def pods() -> list[Any]:
    """Each pod template, with the set and the resource it belongs to."""
    return [
        pytest.param(name, document, id=document["metadata"]["name"])
        for kind in ("Deployment", "Job")
        for name, document in of_kind(kind)
    ]


def selected(name: str, labels: dict[str, str]) -> list[str]:
    """Names of the resources of a set whose pods have all these labels."""
    return [
        document["metadata"]["name"]
        for document in documents(name)
        if "template" in document.get("spec", {})
        and labels.items() <= document["spec"]["template"]["metadata"]["labels"].items()
    ]


def all_of(name: str) -> list[Any]:
    return [
        pytest.param(document, id=f"{document['kind']} {document['metadata']['name']}") for document in documents(name)
    ]


@pytest.mark.parametrize("version", VERSIONS)
@pytest.mark.parametrize("document", [row for name in SETS for row in all_of(name)])
def test_each_document_follows_the_schema(document: Document, version: str) -> None:
    """Strictly: a misspelt field is refused."""
    assert kubernetes_validate.validate(document, version, strict=True) == version


def test_the_validator_refuses_what_is_misspelt() -> None:
    """So that the test above can fail."""
    document = next(d for d in documents("service") if d["kind"] == "Deployment")
    document["spec"]["template"]["spec"]["containers"][0]["livenesProbe"] = {}
    with pytest.raises(kubernetes_validate.ValidationError):
        kubernetes_validate.validate(document, VERSIONS[0], strict=True)


@pytest.mark.parametrize("name", SETS)
def test_every_file_is_listed_and_every_image_named(name: str) -> None:
    """A file that no kustomization lists would be forgotten; so would an image that it cannot set."""
    listed = yaml.safe_load((SETS[name] / "kustomization.yaml").read_text("utf-8"))
    assert sorted([*listed["resources"], "kustomization.yaml"]) == sorted(path.name for path in SETS[name].iterdir())
    assert set(listed) == {"apiVersion", "kind", "resources", "images"}
    images = {row["name"] for row in listed["images"]}
    used = {container["image"] for d in documents(name) for container in containers(d)}
    assert used == images
    assert not any("/" in row["newName"] for row in listed["images"])  # no registry's host
    identities = [(d["kind"], d["metadata"]["name"]) for d in documents(name)]
    assert len(set(identities)) == len(identities)


@RENDERED
@pytest.mark.parametrize("name", SETS)
def test_rendered_they_are_the_same(name: str) -> None:
    """Rendering changes the image's tag of the image and nothing else."""
    listed = yaml.safe_load((SETS[name] / "kustomization.yaml").read_text("utf-8"))
    tagged = {f"{row['newName']}:{row['newTag']}": row["name"] for row in listed["images"]}
    found = rendered(SETS[name])
    for document in found.values():
        for container in containers(document):
            container["image"] = tagged[container["image"]]
    assert found == {(d["kind"], d["metadata"]["name"]): d for d in documents(name)}


#: What an overlay sets, and nothing else: taken out of both before they are compared.
CHANGED: dict[str, list[tuple[str | int, ...]]] = {
    "Deployment": [
        ("spec", "template", "spec", "containers", 0, "image"),
        ("spec", "template", "spec", "containers", 0, "env"),
    ],
    "HorizontalPodAutoscaler": [("spec", "minReplicas"), ("spec", "maxReplicas")],
    "NetworkPolicy": [("spec", "ingress")],
}


def taken(document: Any, place: tuple[str | int, ...]) -> Any:  # noqa: ANN401
    """Remove what is at a place."""
    for step in place[:-1]:
        document = document[step]
    return document.pop(place[-1])


@RENDERED
@pytest.mark.parametrize("folder", [pytest.param(f, id=f.name) for f in OVERLAYS])
def test_an_overlay_changes_only_what_depends_on_its_cluster(folder: Path) -> None:
    """Valid, in a namespace that holds pods to the restricted profile, by digest, the base else."""
    found = rendered(folder)
    base = rendered(SETS["service"])
    (namespace,) = [name for kind, name in found if kind == "Namespace"]
    labels = found.pop(("Namespace", namespace))["metadata"]["labels"]
    assert labels["pod-security.kubernetes.io/enforce"] == "restricted"
    assert set(found) == set(base)
    for key, document in found.items():
        for version in VERSIONS:
            assert kubernetes_validate.validate(document, version, strict=True) == version
        assert document["metadata"].pop("namespace") == namespace
        for container in containers(document):
            assert re.fullmatch(r"registry\.example/[a-z-]+@sha256:[0-9a-f]{64}", container["image"])
        for place in CHANGED.get(key[0], ()):
            assert taken(document, place) != taken(base[key], place), place
        assert document == base[key]


def test_the_overlay_keeps_to_settings_and_numbers_that_make_sense() -> None:
    """As it is: settings that exist, at least two replicas, access only by name."""
    for folder in OVERLAYS:
        listed = yaml.safe_load((folder / "kustomization.yaml").read_text("utf-8"))
        assert listed["resources"] == ["namespace.yaml", "../../base"]
        patches = {row["target"]["kind"]: yaml.safe_load(row["patch"]) for row in listed["patches"]}
        assert set(patches) == set(CHANGED)
        for row in listed["patches"]:
            assert any(
                (d["kind"], d["metadata"]["name"]) == (row["target"]["kind"], row["target"]["name"])
                for d in documents("service")
            )
        numbers = {row["path"]: row["value"] for row in patches["HorizontalPodAutoscaler"]}
        assert 2 <= numbers["/spec/minReplicas"] < numbers["/spec/maxReplicas"]
        (container,) = containers(patches["Deployment"])
        assert {row["name"] for row in container["env"]} <= {
            f"SERVICE_{name.upper()}" for name in Settings.model_fields
        }
        # One for each port: for the work, and for the metrics.
        (policy,) = [d for name, d in of_kind("NetworkPolicy") if name == "service"]
        ports = [rule["ports"][0]["port"] for rule in policy["spec"]["ingress"]]
        assert ports == ["http", "metrics"]
        assert [row["path"] for row in patches["NetworkPolicy"]] == [
            f"/spec/ingress/{place}/from" for place in range(len(ports))
        ]
        for ingress in patches["NetworkPolicy"]:
            assert all(set(row) == {"namespaceSelector"} for row in ingress["value"])


@pytest.mark.parametrize(("name", "document"), pods())
def test_pods_keep_to_the_restricted_profile(name: str, document: Document) -> None:
    """Pod Security Standards, profile restricted, and a read-only file system."""
    pod = document["spec"]["template"]["spec"]
    assert pod["automountServiceAccountToken"] is False
    assert pod["securityContext"]["runAsNonRoot"] is True
    assert pod["securityContext"]["runAsUser"] == 10001
    assert pod["securityContext"]["seccompProfile"] == {"type": "RuntimeDefault"}
    assert not {"hostNetwork", "hostPID", "hostIPC"} & set(pod)
    assert all(set(volume) & {"emptyDir", "persistentVolumeClaim"} for volume in pod["volumes"])
    for container in pod["containers"] + pod.get("initContainers", []):
        assert container["securityContext"] == {
            "allowPrivilegeEscalation": False,
            "readOnlyRootFilesystem": True,
            "capabilities": {"drop": ["ALL"]},
        }
        assert not any("hostPort" in port for port in container.get("ports", []))


@pytest.mark.parametrize(("name", "document"), pods())
def test_pods_ask_for_what_they_need(name: str, document: Document) -> None:
    """Memory is bounded, CPU is asked for and not bounded; what is mounted exists."""
    pod = document["spec"]["template"]["spec"]
    volumes = {volume["name"]: volume for volume in pod["volumes"]}
    claims = {d["metadata"]["name"] for d in documents(name) if d["kind"] == "PersistentVolumeClaim"}
    for volume in volumes.values():
        if "persistentVolumeClaim" in volume:
            assert volume["persistentVolumeClaim"]["claimName"] in claims
    for container in pod["containers"] + pod.get("initContainers", []):
        assert set(container["resources"]["requests"]) == {"cpu", "memory"}
        assert set(container["resources"]["limits"]) == {"memory"}
        environment = {row["name"]: row["value"] for row in container["env"]}
        assert environment["OPENBLAS_NUM_THREADS"] == "1"
        assert container["command"][0] == "python"
    for container in pod["containers"]:
        environment = {row["name"]: row["value"] for row in container["env"]}
        mounts = {row["mountPath"]: row["name"] for row in container["volumeMounts"]}
        assert set(mounts.values()) == set(volumes)
        assert "emptyDir" in volumes[mounts["/tmp"]]
        # The image carries its tables, and nothing that could make them.
        assert ENVIRONMENT_VARIABLE not in environment


@pytest.mark.parametrize(("name", "document"), pods())
def test_selectors_find_their_own_pods_alone(name: str, document: Document) -> None:
    """Of deployments, of services, of budgets, of policies, of spread."""
    if document["kind"] == "Deployment":
        labels = document["spec"]["selector"]["matchLabels"]
        assert selected(name, labels) == [document["metadata"]["name"]]
        for spread in document["spec"]["template"]["spec"].get("topologySpreadConstraints", []):
            assert spread["labelSelector"]["matchLabels"] == labels
    other = next(other for other in SETS if other != name)
    own = document["spec"]["template"]["metadata"]["labels"]
    for _, policy in of_kind("NetworkPolicy"):
        wanted = policy["spec"]["podSelector"]["matchLabels"]
        holds = wanted.items() <= own.items()
        assert holds == (policy in documents(name))
    assert not selected(other, own)


def test_services_reach_a_port_that_is_open() -> None:
    """By its name, on the pods that they select."""
    for name, service in of_kind("Service"):
        (target,) = selected(name, service["spec"]["selector"])
        (deployment,) = [d for d in documents(name) if (d["kind"], d["metadata"]["name"]) == ("Deployment", target)]
        (container,) = deployment["spec"]["template"]["spec"]["containers"]
        open_ports = {port["name"]: port["containerPort"] for port in container["ports"]}
        for port in service["spec"]["ports"]:
            assert port["targetPort"] in open_ports
        for probe in ("startupProbe", "readinessProbe", "livenessProbe"):
            (way,) = [container[probe][k] for k in ("httpGet", "tcpSocket") if k in container[probe]]
            assert way["port"] in open_ports
    schedulers = {
        f"tcp://{s['metadata']['name']}:{s['spec']['ports'][0]['port']}"
        for _, s in of_kind("Service")
        if s["metadata"]["name"] == "batch-scheduler"
    }
    asked = {
        word.removeprefix("--scheduler=")
        for name, pod in ((p.values[0], p.values[1]) for p in pods())
        if name == "batch"
        for container in pod["spec"]["template"]["spec"]["containers"]
        for word in container["command"] + container.get("args", [])
        if "tcp://" in word
    }
    assert asked == schedulers


def test_autoscalers_scale_what_exists() -> None:
    """By the CPU, 70 % of the request, two at least; the deployment names no number of its own."""
    scaled = set()
    for name, scaler in of_kind("HorizontalPodAutoscaler"):
        target = scaler["spec"]["scaleTargetRef"]
        (deployment,) = [
            d
            for d in documents(name)
            if (d["apiVersion"], d["kind"], d["metadata"]["name"])
            == (target["apiVersion"], target["kind"], target["name"])
        ]
        assert "replicas" not in deployment["spec"]
        scaled.add(target["name"])
        (metric,) = scaler["spec"]["metrics"]
        assert metric["resource"] == {
            "name": "cpu",
            "target": {"type": "Utilization", "averageUtilization": 70},
        }
        assert 2 <= scaler["spec"]["minReplicas"] < scaler["spec"]["maxReplicas"]
        # One process works on one core: with a larger request the target would never be passed.
        (container,) = deployment["spec"]["template"]["spec"]["containers"]
        assert container["resources"]["requests"]["cpu"] == "1"
    assert scaled == {"readings", "batch-workers"}


def test_the_service_stays_up_while_it_changes() -> None:
    """New replicas before old ones go, one at a time by choice, spread over zones, drained first."""
    (service,) = [d for name, d in of_kind("Deployment") if name == "service"]
    assert service["spec"]["strategy"]["rollingUpdate"]["maxUnavailable"] == 0
    pod = service["spec"]["template"]["spec"]
    assert "topology.kubernetes.io/zone" in {row["topologyKey"] for row in pod["topologySpreadConstraints"]}
    ((_, budget),) = of_kind("PodDisruptionBudget")
    assert budget["spec"]["maxUnavailable"] == 1
    assert budget["spec"]["selector"] == service["spec"]["selector"]
    (container,) = pod["containers"]
    pause = container["lifecycle"]["preStop"]["sleep"]["seconds"]
    assert 0 < pause < pod["terminationGracePeriodSeconds"] / 2


def test_the_service_calls_nobody_and_is_probed_where_it_answers(client: Any) -> None:  # noqa: ANN401
    """No way out; the addresses of the probes and the settings are those of the code."""
    (policy,) = [d for name, d in of_kind("NetworkPolicy") if name == "service"]
    assert policy["spec"]["policyTypes"] == ["Ingress", "Egress"]
    assert policy["spec"]["egress"] == []
    (service,) = [d for name, d in of_kind("Deployment") if name == "service"]
    (container,) = service["spec"]["template"]["spec"]["containers"]
    paths = {
        probe: container[probe]["httpGet"]["path"] for probe in ("startupProbe", "readinessProbe", "livenessProbe")
    }
    assert paths == {
        "startupProbe": "/health/ready",
        "readinessProbe": "/health/ready",
        "livenessProbe": "/health/live",
    }
    for path in paths.values():
        assert client.get(path).status_code == 200
    environment = {row["name"]: row["value"] for row in container["env"]}
    known = {f"SERVICE_{name.upper()}" for name in Settings.model_fields}
    assert {name for name in environment if name.startswith("SERVICE_")} <= known
    assert int(environment["SERVICE_PORT"]) == container["ports"][0]["containerPort"]


def test_the_job_resumes_where_it_stopped() -> None:
    """It resumes, and is not tried again where it was refused; the input is what workers see too."""
    ((_, job),) = of_kind("Job")
    (container,) = job["spec"]["template"]["spec"]["containers"]
    assert "--resume" in container["args"]
    rule = job["spec"]["podFailurePolicy"]["rules"][0]
    assert rule["onExitCodes"] == {"containerName": "batch", "operator": "In", "values": [2]}
    (workers,) = [d for _, d in of_kind("Deployment") if d["metadata"]["name"] == "batch-workers"]
    (worker,) = workers["spec"]["template"]["spec"]["containers"]
    mounted = [{row["name"]: row["mountPath"] for row in c["volumeMounts"]}["visits"] for c in (container, worker)]
    assert mounted[0] == mounted[1]
    assert all(place.startswith(mounted[0]) for place in container["args"][:2])
