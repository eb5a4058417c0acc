// file: what was typed and ticked as a readings file for whatif match.

function fileText(entries, asked) {
  const quoted = s => JSON.stringify(s); // as YAML has it too
  const lines = ["readings: typed into the page"];
  data.answers.forEach((a, scan) => {
    const did = letter => asked.filter(x => x.scan === scan && x.did === letter).map(x => quoted(a.modules[x.module])).join(", ");
    const lists = [["yes", did("y")], ["no", did("n")]].filter(([, list]) => list !== "").map(([key, list]) => ", " + key + ": [" + list + "]").join("");
    if (lists === "") return;
    if (!lines.includes("answered:")) lines.push("answered:");
    lines.push("  - {at: " + quoted(a.tool) + lists + "}");
  });
  if (entries.length > 0) lines.push("taken:");
  for (const { reading, value } of entries) {
    const where = reading.points ? "from: " + quoted(reading.points[0]) + ", to: " + quoted(reading.points[1]) : "at: " + quoted(reading.at) + ", between: " + quoted(betweenOf(reading));
    lines.push("  - {" + where + (reading.kindOf.unplugged ? ", unplugged: " + quoted(partAt(reading)) : "") + ", " + (reading.kindOf.volts ? "volts: " : "ohms: ") + (value === null ? "OL" : Number(value.toPrecision(12))) + "}");
  }
  return lines.join("\n") + "\n";
}
