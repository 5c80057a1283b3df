package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"slices"

	"ashbook/api"
	"ashbook/api/host"
	"ashbook/labels"
	"ashbook/ledger"
)

func printJSON(out io.Writer, v any) error {
	enc := json.NewEncoder(out)
	enc.SetIndent("", "  ")
	return enc.Encode(v)
}

func ask(ctx context.Context, k *call) error {
	asJSON := k.flags.Bool("json", false, "answer as JSON")
	return k.with(ctx, 1, func(h *host.Host) error {
		a, err := h.Ledger.Ask(ctx, k.rest[0])
		if err != nil {
			return err
		}
		if *asJSON {
			return printJSON(k.out, a)
		}
		_, err = fmt.Fprint(k.out, a.Text())
		return err
	})
}

func label(ctx context.Context, k *call) error {
	style := k.flags.String("style", "", "whose rules: US or EU; empty: the shop's")
	copies := k.flags.Int("copies", 1, "how many are to be printed")
	login := k.flags.String("by", "", "`login` of the person who issues it; empty: the owner, where there is one alone")
	out := k.flags.String("out", "", "`file` to write; empty: the lot's code and .pdf")
	return k.with(ctx, 1, func(h *host.Host) error {
		lot, err := h.Ledger.BarsByCode(ctx, k.rest[0])
		if err != nil {
			return err
		}
		by, err := issuer(ctx, h.Ledger, *login)
		if err != nil {
			return err
		}
		issued, err := labels.Issue(ctx, h.Ledger, by, labels.Request{Lot: lot.ID, Copies: *copies, Style: *style})
		if err != nil {
			return err
		}
		if *out == "" {
			*out = lot.Code + ".pdf"
		}
		if err := os.WriteFile(*out, issued.PDF, 0o644); err != nil {
			return fmt.Errorf("the label is recorded as entry %d, but cannot be written: %w", issued.Receipt.Entry, err)
		}
		_, err = fmt.Fprintf(k.out, "%s: label of %s (%s), entry %d\n", *out, lot.Code, lot.Name, issued.Receipt.Entry)
		return err
	})
}

// issuer is the person on whose word a label is issued. Whoever may open the data folder is trusted to say who that is.
func issuer(ctx context.Context, l *ledger.Ledger, login string) (ledger.Actor, error) {
	if login != "" {
		return l.ActorByLogin(ctx, login)
	}
	people, err := l.People(ctx)
	if err != nil {
		return ledger.Actor{}, err
	}
	people = slices.DeleteFunc(people, func(p ledger.Person) bool { return !p.Active || p.Role != ledger.Owner })
	if len(people) != 1 {
		return ledger.Actor{}, errUsage{"say with --by who issues the label"}
	}
	return l.Actor(ctx, people[0].ID)
}

func verify(ctx context.Context, k *call) error {
	asJSON := k.flags.Bool("json", false, "answer as JSON")
	return k.with(ctx, 0, func(h *host.Host) error {
		v, err := h.Ledger.Verify(ctx)
		if err != nil {
			return err
		}
		if *asJSON {
			err = printJSON(k.out, v)
		} else {
			_, err = fmt.Fprint(k.out, v.Text())
		}
		if err == nil && v.Difference != "" {
			return errNo
		}
		return err
	})
}

func migrate(ctx context.Context, k *call) error {
	service := k.flags.String("service", "", "`role` that serve will use; it is made when missing and gets the rights it needs, no more")
	if err := k.parse(0); err != nil {
		return err
	}
	if *k.database == "" {
		return errUsage{"migrate is for a server of your own: give the owner's address with --database; a private server is brought up to date when it starts"}
	}
	if err := ledger.Migrate(ctx, *k.database, *service); err != nil {
		return err
	}
	fmt.Fprintln(k.out, "the schema is up to date")
	if *service == "" {
		fmt.Fprintln(k.out, "no --service role was named: serve will have to use the owner's address, without full protection of the journal")
	}
	return nil
}

func person(ctx context.Context, k *call) error {
	return k.with(ctx, 1, func(h *host.Host) error {
		by, err := h.Ledger.ActorByLogin(ctx, k.rest[0])
		if err != nil {
			return err
		}
		password, err := api.ResetPassword(ctx, h.Ledger, by.ID)
		if err != nil {
			return err
		}
		_, err = fmt.Fprintf(k.out, "one-time password of %s: %s\n", k.rest[0], password)
		return err
	})
}
