// One start of MicroPython for a whole script: node run.mjs PACKAGE FOLDER < script > answers
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { pathToFileURL } from "node:url";

const [packageFolder, clipFolder] = process.argv.slice(2);
const { loadMicroPython } = await import(pathToFileURL(join(packageFolder, "micropython.mjs")).href);
const micropython = await loadMicroPython({
    heapsize: 8 * 1024 * 1024,
    linebuffer: true,
    stdout: (line) => process.stdout.write(line + "\n"),
});
for (const name of ["footroom_wire.py", "footroom_clip.py", "stub_board.py"]) {
    micropython.FS.writeFile("/" + name, readFileSync(join(clipFolder, name)));
}
micropython.FS.writeFile("/script.txt", readFileSync(0));
micropython.runPython(`
import sys
sys.path.append("/")
import stub_board
script = stub_board.Script()
print(sys.implementation.name)
for line in open("/script.txt"):
    print(script.do(line))
`);
