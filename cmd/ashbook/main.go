// Command ashbook keeps the batch records of a soap workshop, prints labels and answers about lots.
//
// Exit codes: 0 done; 1 the answer is no, or the work failed; 2 wrong use.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/signal"
	"strings"
	"syscall"

	"ashbook/api/host"
	"ashbook/ledger"
)

// The exit codes.
const (
	done     = 0
	no       = 1
	wrongUse = 2
)

// command is one subcommand. run gets what stands behind the flags.
type command struct {
	name, args, does string
	run              func(ctx context.Context, c *call) error
	bare             bool // it needs no database
}

var commands = []command{
	{"serve", "", "serve the pages and the JSON API on 127.0.0.1", serve, false},
	{"demo", "", "load an invented workshop, print what happened in it, and serve it", demoWorkshop, false},
	{"ask", "CODE", "answer about a code, a supplier's lot number, an invoice number or a buyer's name", ask, false},
	{"label", "LOT", "issue the label of a lot of bars as PDF", label, false},
	{"verify", "", "replay the journal and compare every table with it", verify, false},
	{"compute", "WHAT FILE", "work out lye, solution, titration, cure or composition from JSON, without a database", computeFile, true},
	{"migrate", "", "bring the schema on a server of your own up to date", migrate, false},
	{"person", "LOGIN", "give a person a new one-time password", person, false},
}

// call is one use of a command: its flags, and where it prints.
type call struct {
	flags    *flag.FlagSet
	database *string
	data     *string
	in       io.Reader
	out      io.Writer
	errs     io.Writer
	rest     []string
}

// errNo ends a command whose answer, already printed, is no.
var errNo = errors.New("no")

// errUsage ends a command that was called wrongly.
type errUsage struct{ text string }

func (e errUsage) Error() string { return e.text }

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), syscall.SIGINT, syscall.SIGTERM)
	defer stop()
	os.Exit(run(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
}

// run is main for a test.
func run(ctx context.Context, args []string, in io.Reader, out, errs io.Writer) int {
	if len(args) == 0 || args[0] == "help" || args[0] == "-h" || args[0] == "--help" {
		usage(out)
		if len(args) == 0 {
			return wrongUse
		}
		return done
	}
	for _, c := range commands {
		if c.name == args[0] {
			return code(c.start(ctx, args[1:], in, out, errs), errs)
		}
	}
	fmt.Fprintf(errs, "ashbook: there is no command %q; \"ashbook help\" lists them\n", args[0])
	return wrongUse
}

func usage(out io.Writer) {
	fmt.Fprintln(out, "ashbook keeps the batch records of a soap workshop, prints labels and answers about lots.\n\nCommands:")
	for _, c := range commands {
		fmt.Fprintf(out, "  %-18s %s\n", strings.TrimSpace(c.name+" "+c.args), c.does)
	}
	fmt.Fprintln(out, "\nEach takes --help. Without --database (or DATABASE_URL) a private\nPostgreSQL is started in the data folder (--data, or ASHBOOK_DATA).")
}

func (c command) start(ctx context.Context, args []string, in io.Reader, out, errs io.Writer) error {
	f := flag.NewFlagSet("ashbook "+c.name, flag.ContinueOnError)
	f.SetOutput(errs)
	k := &call{flags: f, in: in, out: out, errs: errs, rest: args}
	if !c.bare {
		k.database = f.String("database", os.Getenv("DATABASE_URL"), "`address` of a PostgreSQL server; empty: a private one")
		k.data = f.String("data", "", "data `folder` of the private server")
	}
	return c.run(ctx, k)
}

// words reads flags and words, in any order, and returns the words.
func (k *call) words() (said []string, err error) {
	for args := k.rest; ; args = k.flags.Args()[1:] {
		if err := k.flags.Parse(args); errors.Is(err, flag.ErrHelp) {
			return nil, err
		} else if err != nil {
			return nil, errUsage{""} // the flag package has said what is wrong
		}
		if k.flags.NArg() == 0 {
			return said, nil
		}
		said = append(said, k.flags.Arg(0))
	}
}

// parse reads flags and words, and wants a number of words.
func (k *call) parse(words int) error {
	said, err := k.words()
	if err != nil {
		return err
	}
	k.rest = said
	if len(said) != words {
		return errUsage{fmt.Sprintf("%s: words beside its flags: %d wanted, %d given; see --help", k.flags.Name(), words, len(said))}
	}
	return nil
}

// open opens the ledger and says what the database cannot protect. A command that only looks may do so beside an
// ashbook that serves, but not at a folder without records.
func (k *call) open(ctx context.Context, look bool) (*host.Host, error) {
	h, err := host.Open(ctx, host.Options{Database: *k.database, Data: *k.data, Look: look})
	if err == nil && h.Warning != "" {
		fmt.Fprintln(k.errs, "ashbook: note:", h.Warning)
	}
	return h, err
}

// with reads the flags, opens the ledger, beside a serving ashbook if need be, and closes it after do.
func (k *call) with(ctx context.Context, words int, do func(*host.Host) error) error {
	if err := k.parse(words); err != nil {
		return err
	}
	h, err := k.open(ctx, true)
	if err != nil {
		return err
	}
	err = do(h)
	if closed := h.Close(); err == nil {
		err = closed
	}
	return err
}

// code turns an error into an exit code, by the fault where the ledger names one.
func code(err error, errs io.Writer) int {
	if err == nil || errors.Is(err, flag.ErrHelp) {
		return done
	}
	if errors.Is(err, errNo) {
		return no
	}
	if u, ok := errors.AsType[errUsage](err); ok {
		if u.text != "" {
			fmt.Fprintln(errs, "ashbook:", u.text)
		}
		return wrongUse
	}
	if lines, ok := errors.AsType[errLines](err); ok {
		fmt.Fprintln(errs, lines.text)
		return wrongUse
	}
	e, ours := errors.AsType[*ledger.Error](err)
	if !ours {
		fmt.Fprintln(errs, "ashbook:", err)
		return no
	}
	if bare := error(e); bare == err { // the name of a field is for programs
		err = errors.New(e.Message)
	}
	fmt.Fprintln(errs, "ashbook:", err)
	for _, f := range e.Findings {
		fmt.Fprintf(errs, "  %s: %s\n", f.Level, f.Text)
	}
	if e.Fault == ledger.Invalid {
		return wrongUse
	}
	return no
}
