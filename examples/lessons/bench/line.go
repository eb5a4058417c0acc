package bench

// LineDrawing shows examples/lessons/line.yaml, the bus of several lessons.
const LineDrawing = `
 front                                                                rear
  X2 --P1-- S1 --P2-- X8 --P3-- S2 --P4-- S3 --P5-- X9 --P6-- S4 --P7-- X7
  T1        |                   |         |                  /  \       T2
            Q2                  Q1        Q3               Q4    Q5
            |                   |         |                |      |
            X3                  X1        X4               X5    X6
           pump               meter      dash             lift  lamp
`
