// start: bring the page to life.

for (const e of document.querySelectorAll(".live[hidden]")) e.hidden = false;
startChooser();
startConnectors();
startModules();
startTyped();
startWhatif();
choose({ fault: data.first });
