package localpg

import (
	"bufio"
	"bytes"
	"fmt"
	"os"
	"path"
	"strconv"
	"strings"
)

// memory is how many bytes this process and its children may use: what the machine has, or what a control group, such
// as that of a container, leaves of it. 0: it cannot be known.
func memory() int64 {
	text, _ := os.ReadFile("/proc/meminfo") // unreadable: no line below matches
	most := memTotal(text)
	groups, _ := os.ReadFile("/proc/self/cgroup")
	for _, file := range limitFiles(groups) {
		text, err := os.ReadFile(file)
		if err != nil {
			continue // not every group has one, and a container sees only its own
		}
		if limit, err := strconv.ParseInt(strings.TrimSpace(string(text)), 10, 64); err == nil { // "max": no limit
			most = min(most, limit)
		}
	}
	return most
}

// memTotal reads the size of memory out of /proc/meminfo; 0: it is not there.
func memTotal(meminfo []byte) int64 {
	lines := bufio.NewScanner(bytes.NewReader(meminfo))
	for lines.Scan() {
		var kB int64
		if n, _ := fmt.Sscanf(lines.Text(), "MemTotal: %d kB", &kB); n == 1 {
			return kB << 10
		}
	}
	return 0
}

// limitFiles are the files that may hold a limit for a process of the groups in /proc/self/cgroup: those of its own
// group and of all groups around it, in the layout of either version of control groups.
func limitFiles(groups []byte) (files []string) {
	for line := range strings.Lines(string(groups)) {
		parts := strings.SplitN(strings.TrimSpace(line), ":", 3)
		if len(parts) != 3 {
			continue
		}
		root, name := "/sys/fs/cgroup", "memory.max"
		switch parts[1] {
		case "":
		case "memory":
			root, name = "/sys/fs/cgroup/memory", "memory.limit_in_bytes"
		default:
			continue
		}
		for group := path.Clean("/" + parts[2]); ; group = path.Dir(group) {
			files = append(files, path.Join(root, group, name))
			if group == "/" {
				break
			}
		}
	}
	return files
}
