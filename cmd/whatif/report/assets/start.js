// start: bring the page to life.

startFold();
if (data.readings.length > 0) start();

function start() {
  for (const e of document.querySelectorAll(".live[hidden]")) e.hidden = false;
  startChooser();
  byId("look-title").textContent = "Look at a fault";
  startPicture();
  startConnectors();
  startModules();
  startReasons();
  startTyped();
  startWhatif();
  startHints();
  choose({ fault: data.first });
}
