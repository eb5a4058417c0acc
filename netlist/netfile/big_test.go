package netfile_test
import ("testing";"strings";"fmt";"time";"runtime"
"example.com/ohmloom/netlist/netfile")
func TestBig(t *testing.T){
 mk:=func(conn,wire,mod string,n int) string {
  var b strings.Builder
  b.WriteString("harness: h\nnetworks:\n- {name: n, layer: high-speed}\nconnectors:\n")
  for i:=range n {fmt.Fprintf(&b,conn+"\n",i)}
  if mod!="" {b.WriteString("modules:\n"); for i:=range n {fmt.Fprintf(&b,mod+"\n",i)}}
  b.WriteString("wires:\n")
  for i:=range n {fmt.Fprintf(&b,wire+"\n",i)}
  return b.String()}
 for name,f:=range map[string]string{
  "dangling":mk("- {name: X%d}","- {name: W%d, from: Q.1, to: R.2, ohms: 1}","",12000),
  "modules":mk("- {name: X%d}","- {name: W%d, from: Q.1, to: R.2, ohms: 1}","- {name: M%[1]d, connectors: X%[1]d}",12000),
  "ok":mk("- {name: X%d}","- {name: W%[1]d, from: X%[1]d.H, to: X0.H, ohms: 1}","",12000),
  "misnamed":mk("- {name: X%d}","- {name: W%[1]d, from: aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa%[1]d.H, to: X0.H, ohms: 1}","",12000)+"splices:\n"+strings.Repeat("- {name: a.bbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbb}\n",4),
 }{
  s:=time.Now()
  var m1,m2 runtime.MemStats
  runtime.ReadMemStats(&m1)
  _,err:=netfile.Parse("f",[]byte(f))
  runtime.ReadMemStats(&m2)
  n:=0; if err!=nil {n=len(err.Error())}
  fmt.Println(name,len(f),time.Since(s),n,(m2.TotalAlloc-m1.TotalAlloc)>>20)
 }
}
