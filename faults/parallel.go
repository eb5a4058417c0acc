package faults

import (
	"runtime"
	"sync"
	"sync/atomic"
)

// parallel does something for 0 to n−1 on all processors. start is called once in each
// goroutine and gives what is done there, with scratch space of its own.
func parallel(n int, start func() func(i int)) {
	var next atomic.Int64
	var wait sync.WaitGroup
	for range min(n, runtime.GOMAXPROCS(0)) {
		wait.Go(func() {
			do := start()
			for {
				i := int(next.Add(1)) - 1
				if i >= n {
					return
				}
				do(i)
			}
		})
	}
	wait.Wait()
}
