package bench

import (
	"context"
	"fmt"
	"maps"
	"math/rand/v2"
	"slices"
	"strconv"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"ashbook/ledger"
	"ashbook/ledger/code"
)

// How many batches use one bought lot. The first lot of the clay is the big one: a fifth of all batches use it.
const (
	fewBatches     = 3
	typicalBatches = 40
	clayLine       = 8
	colourLine     = 11
)

// filler copies the model batch n times, each copy with numbers, codes and days of its own, and puts the rows straight
// into the tables. Days go by as in a workshop: on one day some batches are weighed, older ones are cut, released or
// sent, so that the rows of a batch lie apart in the tables as they would.
type filler struct {
	*model
	n, perDay int
	rng       *rand.Rand // seeded by n: the same ledger every time
	to        *copier
	entry     int64 // the last number that was given to an entry
	subject   int64 // and to a thing
	batches   []made
	supplies  []supply // for each line of the weigh list
	serials   map[serial]int
}

// made is one copy of the model batch.
type made struct {
	id, entry, bars int64
	code            string
	poured          decimal.Decimal
	pouredAt, cutAt time.Time
	sent, reworked  int
}

// supply is the bought lot that is in use for a line of the weigh list.
type supply struct {
	lot, left int64 // left: for how many batches it lasts
	bought    int   // how many lots were bought so far
}

type serial struct {
	kind code.Kind
	day  string
}

// fill puts n batches beside the model into the ledger of a database, as the role that owns it.
func fill(ctx context.Context, ownerURL string, m *model, n int) error {
	conn, err := pgx.Connect(ctx, ownerURL)
	if err != nil {
		return err
	}
	defer conn.Close(ctx)
	// replica: the rows are right by construction and Verify checks them, so no trigger has to look at each.
	if _, err := conn.Exec(ctx, `set search_path = ashbook; set session_replication_role = replica; set synchronous_commit = off`); err != nil {
		return err
	}
	f := &filler{model: m, n: n, perDay: 1 + n/6000, rng: rand.New(rand.NewPCG(1, uint64(n))), to: newCopier(conn),
		batches: make([]made, n), supplies: make([]supply, len(m.lots)), serials: map[serial]int{}}
	if err := conn.QueryRow(ctx, `select (select last_value from entry_seq), (select last_value from subject_seq)`).Scan(&f.entry, &f.subject); err != nil {
		return err
	}
	if err := f.live(ctx); err != nil {
		return err
	}
	return f.finish(ctx, conn)
}

// live lets the days go by until the last batch is sent.
func (f *filler) live(ctx context.Context) error {
	days := map[int][]moment{}
	for _, m := range f.life {
		day := int(m.after.Hours()) / 24
		days[day] = append(days[day], m)
	}
	ages := slices.Sorted(maps.Keys(days))
	for day := 0; day <= (f.n-1)/f.perDay+ages[len(ages)-1]; day++ {
		for _, age := range ages {
			for i := (day - age) * f.perDay; i >= 0 && i < min(f.n, (day-age+1)*f.perDay); i++ {
				for _, m := range days[age] {
					if err := f.again(i, m); err != nil {
						return err
					}
				}
			}
		}
		if err := f.to.flush(ctx, 1<<20); err != nil {
			return err
		}
	}
	return f.to.flush(ctx, 0)
}

func (f *filler) start(i int) time.Time {
	return firstDay.AddDate(1, 0, i/f.perDay).Add(time.Duration(i%f.perDay) * time.Minute)
}

func (f *filler) next() int64 {
	f.subject++
	return f.subject
}

func (f *filler) print(k code.Kind, at time.Time) (ledger.Printed, error) {
	key := serial{k, at.Format(time.DateOnly)}
	f.serials[key]++
	c, err := code.New(k, at, f.serials[key])
	return ledger.Printed{Code: c.String(), Serial: f.serials[key]}, err
}

// again writes one entry of the model batch for batch i.
func (f *filler) again(i int, m moment) (err error) {
	b, at := &f.batches[i], f.start(i).Add(m.after)
	switch was := m.body.(type) {
	case *ledger.BatchPlanned:
		plan := *was
		b.id, b.poured, b.entry = f.next(), decimal.Zero, f.entry+1
		plan.ID, plan.PlannedOn = b.id, at.Format(time.DateOnly)
		plan.Printed, err = f.print(code.Batch, at)
		b.code = plan.Code
		return f.write(at, &plan, err)
	case *ledger.StepTaken:
		step := *was
		step.Batch = b.id
		if step.Step == ledger.StepPour {
			b.pouredAt = at
		}
		return f.write(at, &step, nil)
	case *ledger.WeighingTaken:
		return f.weigh(i, at, *was)
	case *ledger.BatchYielded:
		return f.yield(b, at, *was)
	case *ledger.ReadingTaken:
		reading := *was
		if was.Lot != 0 {
			reading.Lot = b.bars
		} else {
			reading.Batch = b.id
		}
		return f.write(at, &reading, nil)
	case *ledger.ReleaseDecided:
		release := *was
		release.Batch = b.id
		f.batchRow(b)
		err = f.write(at, &release, nil)
		f.move(f.entry, b.bars, decimal.NewFromInt(40), "rack", 0, "ready", 0)
		return err
	case *ledger.DispatchSent:
		return f.send(i, at, *was)
	}
	return fmt.Errorf("no copy is made of a %s", m.body.Kind())
}

func (f *filler) weigh(i int, at time.Time, w ledger.WeighingTaken) error {
	b, s := &f.batches[i], &f.supplies[w.Line-1]
	if s.left == 0 {
		if err := f.buy(w.Line-1, at); err != nil {
			return err
		}
	}
	s.left--
	w.Batch, w.Lot = b.id, s.lot
	b.poured = b.poured.Add(w.PouredGrams)
	if err := f.write(at, &w, nil); err != nil || w.Line < len(f.lots) {
		return err
	}
	return f.rework(i, at, w)
}

// buy receives the next lot for a line of the weigh list.
func (f *filler) buy(line int, at time.Time) (err error) {
	s := &f.supplies[line]
	name := fmt.Sprintf("typical-%d-%d", line, s.bought)
	s.left = typicalBatches
	switch {
	case line == colourLine:
		name, s.left = fmt.Sprintf("few-%d", s.bought), fewBatches
	case line == clayLine && s.bought == 0:
		name, s.left = "big", int64(max(f.n/5, 1))
	}
	s.bought++
	lot := *f.lots[line]
	s.lot = f.next()
	lot.ID, lot.SupplierLot, lot.ReceivedOn = s.lot, name, at.Format(time.DateOnly)
	lot.Mass = grams(lot.Mass.Grams.Mul(decimal.NewFromInt(s.left)))
	lot.Mass.Grams = decimal.RequireFromString(lot.Mass.Typed)
	lot.Printed, err = f.print(code.Material, at)
	return f.write(at, &lot, err)
}

// rework puts two bars of an earlier batch, long since released, into every twentieth batch.
func (f *filler) rework(i int, at time.Time, w ledger.WeighingTaken) error {
	old := i - 100*f.perDay
	if i%20 != 0 || old <= 0 {
		return nil
	}
	from := &f.batches[f.rng.IntN(old)]
	if from.reworked == 5 { // the ten bars of it that were not sent are used up
		return nil
	}
	from.reworked++
	pieces := decimal.NewFromInt(2)
	w.Line, w.Lot, w.Planned, w.Tolerance, w.Pieces = 0, from.bars, nil, nil, &pieces
	w.Mass = wholeGrams(330)
	w.Mass.Grams = decimal.NewFromInt(330)
	w.Amount, w.PouredGrams = pieces, from.poured.Mul(pieces).DivRound(decimal.NewFromInt(40), 6)
	f.batches[i].poured = f.batches[i].poured.Add(w.PouredGrams)
	return f.write(at, &w, nil)
}

func (f *filler) yield(b *made, at time.Time, y ledger.BatchYielded) (err error) {
	y.Outputs = slices.Clone(y.Outputs)
	o := &y.Outputs[0]
	b.bars, b.cutAt = f.next(), at
	y.Batch, y.MadeOn = b.id, at.Format(time.DateOnly)
	o.ID, o.PouredGrams = b.bars, b.poured
	o.Printed, err = f.print(code.Bars, at)
	return f.write(at, &y, err)
}

func (f *filler) send(i int, at time.Time, d ledger.DispatchSent) (err error) {
	b := &f.batches[i]
	b.sent++
	d.ID, d.SentOn = f.next(), at.Format(time.DateOnly)
	d.Buyer, d.Reference = f.buyers[(i*5+b.sent)%len(f.buyers)], "invoice "+strconv.Itoa(i*5+b.sent)
	d.Lines = []ledger.DispatchLine{{Lot: b.bars, Pieces: d.Lines[0].Pieces}}
	d.Printed, err = f.print(code.Dispatch, at)
	return f.write(at, &d, err)
}

// finish writes what sums up the entries, each balance where its first entry would have put it, and lets the planner and
// the sequences know of them.
func (f *filler) finish(ctx context.Context, conn *pgx.Conn) error {
	for key, last := range f.serials {
		f.to.add("serial", string(rune(key.kind)), key.day, last)
	}
	if err := f.to.flush(ctx, 0); err != nil {
		return err
	}
	_, err := conn.Exec(ctx, `truncate balance;
		insert into balance select lot_id, place, place_id, sum(amount) from posting group by 1, 2, 3 order by min(entry_id), min(line);
		select setval('entry_seq', (select max(id) from entry)), setval('subject_seq', `+strconv.FormatInt(f.subject, 10)+`)`)
	if err != nil {
		return err
	}
	_, err = conn.Exec(ctx, `vacuum analyze`)
	return err
}
