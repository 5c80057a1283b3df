package localpg

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// The texts are as proc(5) and cgroups(7) of Linux show them.
func TestMemoryOfTheMachineIsRead(t *testing.T) {
	require.Equal(t, int64(8_000_000<<10), memTotal([]byte("MemFree:  100 kB\nMemTotal:        8000000 kB\n")))
	require.Zero(t, memTotal(nil))
	require.Equal(t, []string{"/sys/fs/cgroup/a.slice/b.service/memory.max", "/sys/fs/cgroup/a.slice/memory.max", "/sys/fs/cgroup/memory.max"},
		limitFiles([]byte("0::/a.slice/b.service\n")))
	require.Equal(t, []string{"/sys/fs/cgroup/memory/docker/memory.limit_in_bytes", "/sys/fs/cgroup/memory/memory.limit_in_bytes"},
		limitFiles([]byte("5:devices:/x\n4:memory:/docker\n")))
	require.Positive(t, memory())
}
