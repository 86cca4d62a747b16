// The sheet at its barest: a scenario's text in, the answer's sections out.
"use strict";
const byId = (id) => document.getElementById(id);
const engine = new Engine(Engine.unpacked(byId("engine")));
// For tests.
globalThis.engine = engine;
const given = Engine.given(byId("scenarios"));
for (const [name, content] of given.files) engine.keep(name, content);
if (given.scenarios.length > 0) byId("text").value = given.files.get(given.scenarios[0]);
byId("run").onclick = async () => {
  engine.keep("mine.toml", byId("text").value);
  const answer = await engine.ask({ ask: "run", file: "mine.toml" }, (trials) => {
    byId("state").textContent = `${trials} outages`;
  });
  byId("state").textContent = answer.stopped ? "stopped" : `${answer.seconds.toFixed(2)} s`;
  const told = answer.problems.map((problem) => {
    const drawn = document.createElement("pre");
    drawn.textContent = problem.drawn;
    return drawn;
  });
  const sections = answer.sections.map(({ heading, html }) => {
    const section = document.createElement("section");
    section.innerHTML = html;
    const title = document.createElement("h2");
    title.textContent = heading;
    if (heading) section.prepend(title);
    return section;
  });
  byId("answer").replaceChildren(...told, ...sections);
};
byId("stop").onclick = () => engine.stop();
