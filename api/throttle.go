package api

import (
	"fmt"
	"sync"
	"time"
)

const (
	freeAttempts = 5                // that fail before there is a wait
	forgetAfter  = 15 * time.Minute // without an attempt
	mostKept     = 10_000           // attempts remembered at once
)

// throttle slows down guessing, per login and address, in the memory of this process. After five failures an attempt
// has to wait: 1 s, 2 s, 4 s, up to 5 min.
type throttle struct {
	now func() time.Time

	mu    sync.Mutex
	tries map[string]try
}

type try struct {
	failed int
	last   time.Time
}

func newThrottle(now func() time.Time) *throttle { return &throttle{now: now, tries: map[string]try{}} }

// wait is how long after the last attempt the next one may come.
func (t try) wait() time.Duration {
	over := t.failed - freeAttempts
	if over < 0 {
		return 0
	}
	return min(time.Second<<min(over, 10), 5*time.Minute)
}

// begin counts an attempt as failed until succeed says otherwise, so that many at once are all counted. It gives the
// time to wait, and then the attempt must not be made.
func (t *throttle) begin(key string) time.Duration {
	t.mu.Lock()
	defer t.mu.Unlock()
	now := t.now()
	was := t.tries[key]
	if now.Sub(was.last) > forgetAfter {
		was = try{}
	}
	if left := was.wait() - now.Sub(was.last); left > 0 {
		return left
	}
	if len(t.tries) >= mostKept {
		t.forget(now)
	}
	t.tries[key] = try{was.failed + 1, now}
	return 0
}

// forget drops what is old, and everything when that is not enough: a flood of made-up logins must not fill the memory.
func (t *throttle) forget(now time.Time) {
	for key, was := range t.tries {
		if now.Sub(was.last) > forgetAfter {
			delete(t.tries, key)
		}
	}
	if len(t.tries) >= mostKept {
		clear(t.tries)
	}
}

func (t *throttle) succeed(key string) {
	t.mu.Lock()
	defer t.mu.Unlock()
	delete(t.tries, key)
}

func throttled(wait time.Duration) *problem {
	p := newProblem("throttled", fmt.Sprintf("too many attempts have failed; wait %s and try again", wait.Round(time.Second)))
	p.wait = wait
	return p
}
