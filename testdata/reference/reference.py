#!/usr/bin/python3
"""Answers for random harnesses from two programs that share nothing with ohmloom.

    reference.py networkx < cases.json > answers.json
    reference.py ngspice  < cases.json > answers.json
    reference.py bus      < cases.json > answers.json
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
bus       ngspice, with modules that send. Each switch of a driver is a behavioural
          source of min(limit, max(0, (E - v) / R)), the piecewise linear law itself
          and no diode model. ngspice finds the pieces by Newton's method (itl1
          raised; it falls back on gmin stepping by itself, which it takes out
          again). reltol only stops that iteration: once it is on the right
          pieces, the next step lands on the solution. It may go round in circles
          between pieces (about one set in a hundred); then the same circuit with
          1 nF at each sender's conductors is run in time until it rests.

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
        self.unpowered = {c["Element"] for c in changes if c["Kind"] == "unpower"}
        # [module, network, kind or None without supply, own ground, inside H, inside L]
        self.transceivers = []
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
                # With an offset, a source of no ohms.
                offset = m["GroundOffsetVolts"] or 0.0
                self.edges.append([own, own, "ground", 0.0, offset if self.on else 0.0])
            # A module without its ground is unpowered, supply on or not.
            awake = self.on and plugged and own not in self.parted and m["Name"] not in self.unpowered
            if m["Transceiver"] == "none":
                continue
            kind = kinds[m["Transceiver"]]
            for n in self.layer:
                conductors = self.layer[n]["conductors"]
                if not all((n, k) in inside for k in conductors):
                    continue
                if m.get("Networks") and n not in m["Networks"]:
                    continue
                ends = ["inside " + m["Name"] + " " + n + "." + k for k in conductors]
                self.transceivers.append([m["Name"], n, kind if awake else None, own] + ends)
                for k in conductors:
                    label = k if len(self.layer) == 1 else n + "." + k
                    self.resistor(
                        "input of " + m["Name"] + " " + label,
                        "inside " + m["Name"] + " " + n + "." + k,
                        own,
                        kind["AwakeMinOhms"] if awake else kind["UnpoweredMinOhms"],
                        (kind["IdleVolts"] or self.layer[n]["idle_volts"]) if awake else 0.0,
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
            elif c["Kind"] in ("unpower", "stick"):
                pass  # no edge
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


def numbering():
    """Names of nodes as ngspice has them."""
    number = {"ground": "0"}
    return number, lambda name: number.setdefault(name, str(len(number)))


def deck_edges(net, node, pieces):
    joined = Union()
    pieces.find("ground")
    lines = ["* made by reference.py"]
    for i, (_, a, b, ohms, volts) in enumerate(net.edges):
        pieces.join(a, b)
        na, nb = node(a), node(b)
        if ohms == 0:
            if joined.join(a, b):
                lines.append("vj%d %s %s dc %r" % (i, na, nb, volts))
        elif volts != 0:
            lines.append("r%d %s m%d %r" % (i, na, i, ohms))
            lines.append("ve%d m%d %s dc %r" % (i, i, nb, volts))
        else:
            lines.append("r%d %s %s %r" % (i, na, nb, ohms))
    return lines


def tie(number, node, pieces):
    """Ties each piece without ground to it by one resistor."""
    lines, tied = [], {pieces.find("ground")}
    for p in list(number):
        if pieces.find(p) not in tied:
            tied.add(pieces.find(p))
            lines.append("rtie%d %s 0 1" % (len(tied), node(p)))
    return lines


def run_ngspice(lines, count, may_fail=False):
    with tempfile.NamedTemporaryFile("w", suffix=".cir") as f:
        f.write("\n".join(lines) + "\n")
        f.flush()
        run = subprocess.run(["ngspice", "-b", f.name], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, universal_newlines=True)
    values = [float(l.split("=")[1]) for l in run.stdout.splitlines() if l.startswith("answer = ")]
    if may_fail and "DC solution failed" in run.stdout:
        return None
    if "singular" in run.stdout or len(values) != count:
        sys.exit(run.stdout + "\n" + "\n".join(lines))
    return values


def answer_ngspice(net, quantity, readings):
    number, node = numbering()
    pieces = Union()
    lines = deck_edges(net, node, pieces)
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
    lines += tie(number, node, pieces)
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
    values = run_ngspice(lines, open_.count(False))
    out = []
    for i in range(len(readings)):
        if not open_[i]:
            out.append({"Value": values.pop(0), "Bound": 0.0})
        else:
            # OL, or no loop through a voltmeter.
            out.append({"Value": 0.0 if quantity == "volts" else None, "Bound": 0.0})
    return out


def answer_bus(net, case, asked, at_rest=False):
    """Levels of every transceiver to its own ground, currents of the senders'
    switches, and what a meter shows, while some send."""
    number, node = numbering()
    pieces = Union()
    lines = deck_edges(net, node, pieces)
    for r in asked["Readings"] or []:
        for p in (r["From"], r["To"]):
            node(net.point(p))
            pieces.find(net.point(p))
    pieces.join("supply", "ground")
    lines.append("vsupply %s 0 dc %r" % (node("supply"), net.h["Supply"]["Volts"]))

    sending = {(s["Module"], s["Network"]) for s in asked["Senders"] or []}
    stuck = {tuple(c["Element"].split("/")) for c in case["Changes"] or [] if c["Kind"] == "stick"}
    senders = []
    for module, network, kind, own, h, l in net.transceivers:
        if kind is None or (module, network) not in sending | stuck:
            continue
        k = len(senders)
        # Both limits and all tolerances stand in the middle of their ranges.
        limit = (kind["DriveLimitMinMA"] + kind["DriveLimitMaxMA"]) / 2000
        law = "min(%r, max(0, (%s) / %r))"
        for side, conductor, ohms, drop in (
            ("up", h, kind["DriveHOhms"], "%r - (v(%s) - v(%s))" % (kind["DriveVolts"] - (kind["DriveHDiodeVolts"] or 0.0), node(h), node(own))),
            ("down", l, kind["DriveLOhms"], "v(%s) - v(%s) - %r" % (node(l), node(own), kind["DriveLDiodeVolts"] or 0.0)),
        ):
            if pieces.find(conductor) != pieces.find(own):
                continue  # no loop for the current
            if at_rest:
                lines.append("c%s%d %s %s 1n" % (side, k, node(conductor), node(own)))
            inner = "%s%d" % (side, k)
            if side == "up":
                lines.append("v%s %s %s dc 0" % (inner, node(own), inner))
                lines.append("b%s %s %s i = %s" % (inner, inner, node(h), law % (limit, drop, ohms)))
            else:
                lines.append("b%s %s %s i = %s" % (inner, node(l), inner, law % (limit, drop, ohms)))
                lines.append("v%s %s %s dc 0" % (inner, inner, node(own)))
        senders.append([module + "/" + network, h, l, own])
    for i, r in enumerate(asked["Readings"] or []):
        lines.append("rmeter%d %s %s 1e30" % (i, node(net.point(r["From"])), node(net.point(r["To"]))))
    lines += tie(number, node, pieces)
    lines += [".options reltol=1e-6 abstol=1e-9 vntol=1e-7 itl1=1000 method=gear", ".control", "set numdgt=16"]
    # 1 nF on 50 kohm at most: 20 ms are 400 time constants.
    solve, last = (["tran 1u 20m uic", "let last = length(time) - 1"], "[last]") if at_rest else (["op"], "")
    lines += solve

    asks = []  # what each answer is

    def ask(what, expression):
        asks.append(what)
        lines.append("let answer = " + expression)
        lines.append("print answer")

    def voltage(a, b):
        return " - ".join("v(%s)%s" % (node(p), last) if node(p) != "0" else "0" for p in (a, b))

    out = {"Levels": {}, "Amps": {}, "Meter": [], "AtRest": at_rest}
    for module, network, kind, own, h, l in net.transceivers:
        out["Levels"][module + "/" + network] = levels = [0.0, 0.0]
        for side, conductor in enumerate((h, l)):
            if pieces.find(conductor) == pieces.find(own):
                ask((levels, side), voltage(conductor, own))
    for k, (name, h, l, own) in enumerate(senders):
        out["Amps"][name] = amps = [0.0, 0.0]
        for side, (word, conductor) in enumerate((("up", h), ("down", l))):
            if pieces.find(conductor) == pieces.find(own):
                ask((amps, side), "i(v%s%d)%s" % (word, k, last))
    for i, r in enumerate(asked["Readings"] or []):
        out["Meter"].append(0.0)
        a, b = net.point(r["From"]), net.point(r["To"])
        if pieces.find(a) != pieces.find(b):
            continue  # no loop through the meter
        lines.append("alter rmeter%d = %r" % (i, METER_OHMS))
        lines += solve
        ask((out["Meter"], i), voltage(a, b))
        lines.append("alter rmeter%d = 1e30" % i)
    lines += ["quit 0", ".endc", ".end"]
    values = run_ngspice(lines, len(asks), not at_rest)
    if values is None:
        return answer_bus(net, case, asked, True)
    for (where, i), value in zip(asks, values):
        where[i] = value
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
            on = tool == "bus" or s["Supply"] == "idle"
            net = Net(case["Harness"], on, s["Unplugged"] or [], case["Changes"] or [])
            net.change(case["Changes"] or [])
            if tool == "networkx":
                sets.append(answer_networkx(net, s["Readings"]) if not on else None)
            elif tool == "bus":
                sets.append(answer_bus(net, case, s))
            else:
                sets.append(answer_ngspice(net, "volts" if on else "ohms", s["Readings"]))
        answers.append(sets)
    json.dump(answers, sys.stdout)


if __name__ == "__main__":
    main()
