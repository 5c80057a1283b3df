package api

import (
	"testing"

	"ashbook/ledger/ledgertest"
)

func TestMain(m *testing.M) { ledgertest.Main(m) }
