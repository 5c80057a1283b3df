package localpg

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestCacheGrowsWithMemory(t *testing.T) {
	for memory, want := range map[int64]string{0: "65536kB", 256 << 20: "65536kB", 2 << 30: "262144kB", 64 << 30: "1048576kB"} {
		require.Equal(t, want, cacheFor(memory))
	}
}
