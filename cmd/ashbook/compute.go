package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"ashbook/ledger/compute"
)

// computeFile works out what a JSON file asks, or prints the schema of a calculation. It needs no database.
func computeFile(_ context.Context, k *call) error {
	schema := k.flags.Bool("schema", false, "print the JSON Schema of what it reads")
	answer := k.flags.Bool("output-schema", false, "print the JSON Schema of what it answers")
	k.flags.Usage = func() { computeUsage(k) }
	words, err := k.words()
	if err != nil {
		return err
	}
	asSchema := *schema || *answer
	if len(words) != 2 && !(asSchema && len(words) == 1) {
		return errUsage{"compute: say what to work out and the file that asks for it (- for standard input), as in \"ashbook compute lye batch.json\"; see --help"}
	}
	c, err := calculation(words[0])
	if err != nil {
		return err
	}
	var out []byte
	switch {
	case *answer:
		out, err = c.OutputSchema()
	case *schema:
		out, err = c.InputSchema()
	default:
		out, err = workOut(c, words[1], k.in)
	}
	if err != nil {
		return err
	}
	_, err = k.out.Write(out)
	return err
}

func calculation(name string) (compute.Command, error) {
	var names []string
	for _, c := range compute.Commands() {
		if c.Name == name {
			return c, nil
		}
		names = append(names, c.Name)
	}
	return compute.Command{}, errUsage{fmt.Sprintf("compute: there is no calculation %q; use one of %s", name, strings.Join(names, ", "))}
}

// workOut answers a file. Every line about wrong input names the calculation and the field.
func workOut(c compute.Command, name string, stdin io.Reader) ([]byte, error) {
	in := stdin
	if name != "-" {
		f, err := os.Open(name)
		if err != nil {
			return nil, err
		}
		defer f.Close()
		in = f
	}
	out, err := c.Run(in)
	wrong, ok := errors.AsType[*compute.WrongInput](err)
	if !ok {
		return out, err
	}
	prefix := "compute " + c.Name + ": "
	return nil, errLines{prefix + strings.ReplaceAll(wrong.Error(), "\n", "\n"+prefix)}
}

// errLines ends a command whose input is wrong: whole lines, as they are.
type errLines struct{ text string }

func (e errLines) Error() string { return e.text }

func computeUsage(k *call) {
	w := k.flags.Output()
	fmt.Fprintln(w, "Usage: ashbook compute WHAT FILE     (- for standard input)\n       ashbook compute WHAT --schema | --output-schema\n\nWHAT is one of:")
	for _, c := range compute.Commands() {
		fmt.Fprintf(w, "  %-12s %s\n", c.Name, c.Does)
	}
	fmt.Fprintln(w, "\nExit codes: 0 worked out; 1 the work failed; 2 the input is wrong: a line for each field says how.")
}
