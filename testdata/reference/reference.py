#!/usr/bin/python3
"""Answers for random harnesses from two programs that share nothing with ohmloom.

    reference.py networkx < cases.json > answers.json
    reference.py ngspice  < cases.json > answers.json
    reference.py versions

It derives the electrical network from the harness by itself, so that it checks
netlist.NewCircuit as well as package solve:

networkx  resistance_distance, by the pseudo-inverse of the Laplacian. It has no
          ideal joints, so they are contracted here; it refuses graphs in more
          than one piece, so points without a path are null (OL).
ngspice   one deck for each condition, joints as 0 V sources, the meter as 1 A or
          as its 10 Mohm input. A piece without ground is tied to it by one
          resistor, in which nothing can flow. No rshunt. gmin plays no part: it
          goes into devices with junctions only, and there are none. reltol only
          stops the iteration of nonlinear circuits; a linear one is solved
          directly, to the rounding of its LU factors.

The harness must give everything that it could leave out: ohms of all wires,
contacts and loads, volts, and kinds of transceiver with one value each.
"""

import json
import subprocess
import sys
import tempfile

LAYERS = {"high-speed": {"conductors": ["H", "L"], "idle_volts": 2.5}}
METER_OHMS = 10e6


class Object(dict):
    """What ohmloom's own JSON leaves out is not given."""

    def __missing__(self, key):
        return None


class Net:
    """Edges [name, a, b, ohms, volts]; 0 ohms is an ideal joint, current from
    a to b is (V_a - V_b - volts) / ohms."""

    def __init__(self, harness, supply_on, unplugged, changes):
        self.h = harness
        self.on = supply_on
        self.parted = {c["Element"] for c in changes if c["Kind"] == "part"}
        self.unplugged = unplugged
        self.layer = {n["Name"]: LAYERS[n["Layer"]] for n in harness["Networks"]}
        self.conductor_at = {}  # harness point: (network, conductor)
        self.edges = []
        self.build()

    def joint(self, name, a, b):
        self.edges.append([name, a, b, 0.0, 0.0])

    def resistor(self, name, a, b, ohms, volts=0.0):
        self.edges.append([name, a, b, ohms, volts])

    def list(self, key):
        return self.h.get(key) or []

    def network(self, name):
        return name or self.h["Networks"][0]["Name"]

    def conductor(self, text, network):
        if "." in text:
            return tuple(text.split("."))
        return (self.network(network), text)

    def build(self):
        load = self.h["Supply"]
        if not self.on:
            self.resistor("loads on the supply rail", "supply", "ground", load["LoadOhms"])
        fitted = {}
        for m in self.list("Modules"):
            for x in m["Connectors"]:
                fitted[x] = m["Name"]
        splices = {s["Name"] for s in self.list("Splices")}
        modules = {m["Name"] for m in self.list("Modules")}
        for t in self.list("Terminators"):
            if t["At"] not in splices and t["At"] not in modules:
                fitted[t["At"]] = t["Name"]

        self.cavities = {}  # connector: [(cavity, conductor)]
        for x in self.list("Connectors"):
            given = x.get("Cavities") or [
                {"Name": k, "Carries": k} for k in self.layer[self.network(x["Network"])]["conductors"]
            ]
            self.cavities[x["Name"]] = []
            other = "/b." if x["Inline"] else "/device."
            for c in given:
                point = x["Name"] + "." + c["Name"]
                if c["Carries"] in ("ground", "supply"):
                    self.joint("rail at " + point, point, c["Carries"])
                    continue
                k = self.conductor(c["Carries"], x["Network"])
                self.cavities[x["Name"]].append((c["Name"], k))
                self.conductor_at[point] = k
                if x["Inline"] or x["Name"] in fitted:
                    self.conductor_at[x["Name"] + other + c["Name"]] = k
                    if x["Name"] not in self.unplugged:
                        self.resistor("contact " + point, point, x["Name"] + other + c["Name"], x["ContactOhms"])
        for s in self.list("Splices"):
            for k in s.get("Joins") or self.layer[self.network(s["Network"])]["conductors"]:
                self.conductor_at[s["Name"] + "." + k] = (self.network(s["Network"]), k)

        kinds = {k["Name"]: k for k in self.list("Transceivers")}
        carried = {}
        for m in self.list("Modules"):
            inside = carried.setdefault(m["Name"], set())
            for x in m["Connectors"]:
                for cavity, k in self.cavities[x]:
                    self.joint("pin", x + "/device." + cavity, "inside " + m["Name"] + " " + k[0] + "." + k[1])
                    inside.add(k)
            own = "ground of " + m["Name"]
            plugged = any(x not in self.unplugged for x in m["Connectors"])
            if plugged:
                self.joint(own, own, "ground")
            # A module without its ground is unpowered, supply on or not.
            awake = self.on and plugged and own not in self.parted
            if m["Transceiver"] == "none":
                continue
            kind = kinds[m["Transceiver"]]
            for n in self.layer:
                conductors = self.layer[n]["conductors"]
                if not all((n, k) in inside for k in conductors):
                    continue
                if m.get("Networks") and n not in m["Networks"]:
                    continue
                for k in conductors:
                    label = k if len(self.layer) == 1 else n + "." + k
                    self.resistor(
                        "input of " + m["Name"] + " " + label,
                        "inside " + m["Name"] + " " + n + "." + k,
                        own,
                        kind["AwakeMinOhms"] if awake else kind["UnpoweredMinOhms"],
                        self.layer[n]["idle_volts"] if awake else 0.0,
                    )

        for t in self.list("Terminators"):
            at = {}
            if t["At"] in modules:
                for k in carried[t["At"]]:
                    at[k] = "inside " + t["At"] + " " + k[0] + "." + k[1]
            elif t["At"] in splices:
                for point, k in self.conductor_at.items():
                    if point.split(".")[0] == t["At"]:
                        at[k] = point
            else:
                for cavity, k in self.cavities[t["At"]]:
                    at[k] = t["At"] + "/device." + cavity
            networks = {k[0] for k in at}
            n = t["Network"] or networks.pop()
            a, b = (at[(n, k)] for k in self.layer[n]["conductors"])
            name = "terminator " + t["Name"]
            if t["Split"]:
                middle = "middle of " + t["Name"]
                for end, k in zip((a, b), self.layer[n]["conductors"]):
                    self.resistor(name + ", " + k + " half", end, middle, t["Ohms"] / 2)
            else:
                self.resistor(name, a, b, t["Ohms"])

        for p in self.list("Pairs"):
            ends = [self.pair_end(p["From"]), self.pair_end(p["To"])]
            n = p["Network"] or ({k[0] for k in ends[0]} & {k[0] for k in ends[1]}).pop()
            for k in self.layer[n]["conductors"]:
                self.resistor("pair " + p["Name"] + " " + k, ends[0][(n, k)], ends[1][(n, k)], p["Ohms"])
        for w in self.list("Wires"):
            self.resistor("wire " + w["Name"], self.point(w["From"]), self.point(w["To"]), w["Ohms"])
        for s in self.list("Strays"):
            self.resistor("stray path " + s["Name"], self.point(s["From"]), self.point(s["To"]), s["Ohms"])

    def point(self, name):
        return name.replace("/a.", ".")

    def pair_end(self, end):
        if len(end) == 1 and "." not in end[0]:
            place = end[0][:-2] if end[0].endswith("/a") else end[0]
            return {k: point for point, k in self.conductor_at.items() if point.rpartition(".")[0] == place}
        return {self.conductor_at[self.point(e)]: self.point(e) for e in end}

    def change(self, changes):
        cut = {}  # element: [(fraction, node)]
        bridges = []

        def spot(s):
            if not s["Element"]:
                return self.point(s["Point"])
            node = "spot %d" % sum(len(v) for v in cut.values())
            cut.setdefault(s["Element"], []).append((s["Fraction"] or 0.0, node))
            return node

        def named(name):
            found = [e for e in self.edges if e[0] == name]
            # A contact that is unplugged is no longer among them, nor the
            # ground of a module that is.
            assert len(found) == 1 or name.startswith(("contact ", "ground of ")) and not found, name
            return found

        for c in changes:
            if c["Kind"] == "part":
                for e in named(c["Element"]):
                    self.edges.remove(e)
            elif c["Kind"] == "insert":
                for e in named(c["Element"]):
                    e[3] += c["Ohms"] or 0.0
            elif c["Kind"] == "bridge":
                bridges.append((spot(c["From"]), spot(c["To"]), c["Ohms"] or 0.0))
            else:
                raise ValueError(c["Kind"])
        for name, spots in cut.items():
            (e,) = named(name)
            self.edges.remove(e)
            at, done = e[1], 0.0
            for fraction, node in sorted(spots) + [(1.0, e[2])]:
                self.resistor(name, at, node, e[3] * (fraction - done))
                at, done = node, fraction
        for a, b, ohms in bridges:
            self.resistor("bridge", a, b, ohms)


class Union:
    def __init__(self):
        self.parent = {}

    def find(self, x):
        self.parent.setdefault(x, x)
        while self.parent[x] != x:
            x = self.parent[x]
        return x

    def join(self, a, b):
        """False when they were joined already."""
        a, b = self.find(a), self.find(b)
        self.parent[b] = a
        return a != b


def answer_networkx(net, readings):
    import networkx
    import numpy

    joined = Union()
    for _, a, b, ohms, _ in net.edges:
        if ohms == 0:
            joined.join(a, b)
    graph = networkx.MultiGraph()
    for _, a, b, ohms, _ in net.edges:
        graph.add_node(joined.find(a))
        graph.add_node(joined.find(b))
        if ohms != 0 and joined.find(a) != joined.find(b):
            graph.add_edge(joined.find(a), joined.find(b), ohms=ohms)
    out = []
    for r in readings:
        a, b = joined.find(net.point(r["From"])), joined.find(net.point(r["To"]))
        graph.add_node(a)
        graph.add_node(b)
        if a == b:
            out.append({"Value": 0.0, "Bound": 0.0})
        elif not networkx.has_path(graph, a, b):
            out.append({"Value": None, "Bound": 0.0})
        else:
            piece = graph.subgraph(networkx.node_connected_component(graph, a)).copy()
            value = networkx.resistance_distance(piece, a, b, weight="ohms", invert_weight=True)
            for _, _, d in piece.edges(data=True):
                d["siemens"] = 1 / d["ohms"]
            w = networkx.laplacian_matrix(piece, weight="siemens").toarray()
            e = numpy.linalg.eigvalsh(w)
            # The pseudo-inverse is off by about epsilon times the condition
            # number times its own size, 1 / the least eigenvalue that is not 0.
            out.append({"Value": value, "Bound": float(2.0**-52 * e[-1] / e[1] ** 2 / value)})
    return out


def answer_ngspice(net, quantity, readings):
    number = {"ground": "0"}

    def node(name):
        return number.setdefault(name, str(len(number)))

    joined, pieces = Union(), Union()
    pieces.find("ground")
    lines = ["* made by reference.py"]
    for i, (_, a, b, ohms, volts) in enumerate(net.edges):
        pieces.join(a, b)
        na, nb = node(a), node(b)
        if ohms == 0:
            if joined.join(a, b):
                lines.append("vj%d %s %s dc 0" % (i, na, nb))
        elif volts != 0:
            lines.append("r%d %s m%d %r" % (i, na, i, ohms))
            lines.append("ve%d m%d %s dc %r" % (i, i, nb, volts))
        else:
            lines.append("r%d %s %s %r" % (i, na, nb, ohms))
    for r in readings:
        for p in (r["From"], r["To"]):
            node(net.point(p))
            pieces.find(net.point(p))
    if net.on:
        pieces.join("supply", "ground")
        lines.append("vsupply %s 0 dc %r" % (node("supply"), net.h["Supply"]["Volts"]))
    open_ = []
    for i, r in enumerate(readings):
        a, b = net.point(r["From"]), net.point(r["To"])
        open_.append(pieces.find(a) != pieces.find(b))
        if quantity == "volts":
            # 1e30 ohms while other readings are taken: nothing in float64.
            lines.append("rmeter%d %s %s 1e30" % (i, node(a), node(b)))
        else:
            lines.append("imeter%d %s %s dc 0" % (i, node(b), node(a)))
    tied = {pieces.find("ground")}
    for p in list(number):
        if pieces.find(p) not in tied:
            tied.add(pieces.find(p))
            lines.append("rtie%d %s 0 1" % (len(tied), node(p)))
    lines += [".options reltol=1e-9 abstol=1e-18 vntol=1e-15", ".control", "set numdgt=16"]
    for i, r in enumerate(readings):
        if open_[i]:
            continue
        meter, on, off = "imeter%d dc" % i, 1, 0
        if quantity == "volts":
            meter, on, off = "rmeter%d" % i, METER_OHMS, 1e30
        lines.append("alter %s = %r" % (meter, on))
        lines.append("op")
        volts = ["v(%s)" % node(net.point(r[end])) if node(net.point(r[end])) != "0" else "0" for end in ("From", "To")]
        lines.append("let answer = %s - %s" % tuple(volts))
        lines.append("print answer")
        lines.append("alter %s = %r" % (meter, off))
    lines += ["quit 0", ".endc", ".end"]
    with tempfile.NamedTemporaryFile("w", suffix=".cir") as f:
        f.write("\n".join(lines) + "\n")
        f.flush()
        run = subprocess.run(["ngspice", "-b", f.name], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, universal_newlines=True)
    values = [float(l.split("=")[1]) for l in run.stdout.splitlines() if l.startswith("answer = ")]
    if "singular" in run.stdout or len(values) != open_.count(False):
        sys.exit(run.stdout + "\n" + "\n".join(lines))
    out = []
    for i in range(len(readings)):
        if not open_[i]:
            out.append({"Value": values.pop(0), "Bound": 0.0})
        else:
            # OL, or no loop through a voltmeter.
            out.append({"Value": 0.0 if quantity == "volts" else None, "Bound": 0.0})
    return out


def main():
    tool = sys.argv[1]
    if tool == "versions":
        import networkx
        import numpy

        line = [l for l in subprocess.check_output(["ngspice", "--version"], universal_newlines=True).splitlines() if "ngspice-" in l][0]
        json.dump({
            "Python": sys.version.split()[0],
            "Networkx": networkx.__version__,
            "Numpy": numpy.__version__,
            "Ngspice": line.strip("* ").split(" ")[0],
        }, sys.stdout)
        return
    answers = []
    for case in json.load(sys.stdin, object_hook=Object):
        sets = []
        for s in case["Sets"]:
            on = s["Supply"] == "idle"
            net = Net(case["Harness"], on, s["Unplugged"] or [], case["Changes"] or [])
            net.change(case["Changes"] or [])
            if tool == "networkx":
                sets.append(answer_networkx(net, s["Readings"]) if not on else None)
            else:
                sets.append(answer_ngspice(net, "volts" if on else "ohms", s["Readings"]))
        answers.append(sets)
    json.dump(answers, sys.stdout)


if __name__ == "__main__":
    main()
