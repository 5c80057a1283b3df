# shellcheck shell=bash
# What the scripts in this folder share: where the clone is, how programs that
# are missing get installed from the system's own packages, how ashbook is
# built. Sourced, never run.

root=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd -P)

say() { printf '%s\n' "$*" >&2; }

fail() {
  say "$(basename "$0"): $*"
  exit 1
}

# quietly COMMAND...: shows what COMMAND says only when it fails.
quietly() {
  local said status=0
  said=$("$@" 2>&1) || status=$?
  ((status == 0)) || say "$said"
  return "$status"
}

have() { command -v "$1" >/dev/null 2>&1; }

# The oldest PostgreSQL that ashbook works with; ledger/localpg has the same.
oldest_postgres=14

# has_postgres: are the programs of a PostgreSQL server there, in one of the
# places where ledger/localpg looks for them?
has_postgres() {
  local dir version dirs=()
  IFS=: read -r -a dirs <<<"$PATH"
  dirs+=(/usr/lib/postgresql/*/bin /usr/libexec/postgresql* /usr/pgsql-*/bin /usr/local/pgsql/bin
    /opt/homebrew/opt/postgresql@*/bin /usr/local/opt/postgresql@*/bin)
  for dir in "${dirs[@]}"; do
    [[ -x $dir/initdb && -x $dir/postgres ]] || continue
    version=$("$dir/postgres" --version 2>/dev/null) || continue
    [[ $version =~ ([0-9]+) ]] && ((BASH_REMATCH[1] >= oldest_postgres)) && return 0
  done
  return 1
}

has_chromium() {
  have chromium || have chromium-browser || have google-chrome || have google-chrome-stable ||
    have headless-shell || [[ -x "/Applications/Chromium.app/Contents/MacOS/Chromium" ]] ||
    [[ -x "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome" ]]
}

has_poppler() { have pdftotext && have pdftoppm; }

has_compiler() { have gcc || have clang || have cc; }

manager() {
  local name
  for name in apt-get dnf apk pacman brew; do
    if have "$name"; then
      echo "$name"
      return
    fi
  done
  return 1
}

# packages MANAGER THING: what MANAGER calls the packages with THING in them.
packages() {
  case $2:$1 in
    postgres:apt-get) echo postgresql ;;
    postgres:dnf) echo postgresql-server ;;
    postgres:apk | postgres:pacman) echo postgresql ;;
    postgres:brew) echo postgresql@17 ;;
    chromium:brew) echo --cask chromium ;;
    chromium:*) echo chromium ;;
    poppler:pacman | poppler:brew) echo poppler ;;
    poppler:*) echo poppler-utils ;;
    compiler:apt-get) echo gcc libc6-dev ;;
    compiler:apk) echo gcc musl-dev ;;
    compiler:*) echo gcc ;;
  esac
}

# as_root COMMAND...: as root, through sudo when we are not. Without a
# terminal sudo must not wait for a password that nobody types.
as_root() {
  if ((EUID == 0)); then
    "$@"
  elif [[ -t 0 ]]; then
    sudo "$@"
  else
    sudo -n "$@"
  fi
}

# keep_cluster_away: Debian's packages make and start a cluster of their own
# on installation. Ashbook needs the programs alone, so where nobody has
# PostgreSQL set up yet that is switched off; an existing set-up is left alone.
keep_cluster_away() {
  [[ -e /etc/postgresql-common ]] && return
  apt_get install -y --no-install-recommends postgresql-common &&
    sed -i -E 's/^#?[[:space:]]*create_main_cluster[[:space:]]*=.*/create_main_cluster = false/' \
      /etc/postgresql-common/createcluster.conf
}

apt_get() {
  # 600 s: another package run may be under way, as on a machine just booted.
  quietly env DEBIAN_FRONTEND=noninteractive apt-get -qq -o DPkg::Lock::Timeout=600 "$@"
}

# install_with MANAGER THING: as root, but for brew.
install_with() {
  local names
  read -r -a names <<<"$(packages "$1" "$2")"
  case $1 in
    apt-get)
      apt_get update || say "apt-get update failed; trying with the package lists that are there"
      if [[ $2 == postgres ]]; then keep_cluster_away || return; fi
      apt_get install -y --no-install-recommends "${names[@]}"
      ;;
    dnf) quietly dnf install -y -q "${names[@]}" ;;
    apk) quietly apk add -q --wait 600 "${names[@]}" ;;
    pacman) quietly pacman -Sy --noconfirm --needed "${names[@]}" ;;
    brew) quietly brew install -q "${names[@]}" ;;
  esac
}

# install_as_root MANAGER THING: install_with as root, after any other clone
# has finished installing, and only if that one has not brought THING. The
# lock lies in /run, where only root can make it.
install_as_root() {
  local lock=()
  if have flock && [[ -d /run ]]; then lock=(flock /run/ashbook-install.lock); fi
  # shellcheck disable=SC2016 # the inner shell expands these
  as_root ${lock[@]+"${lock[@]}"} bash -c '
    set -uo pipefail
    source "$1"
    "has_$3" || install_with "$2" "$3"' "$0" "$root/deploy/lib.sh" "$1" "$2"
}

# need THING...: installs each thing for which has_THING says no.
need() {
  local thing manager names hand install=install_as_root
  for thing in "$@"; do
    "has_$thing" && continue
    manager=$(manager) ||
      fail "$(missing "$thing") Install it; there is no apt-get, dnf, apk, pacman or brew here to do so."
    names=$(packages "$manager" "$thing")
    hand="as root: $manager $(verb "$manager") $names"
    if [[ $manager == brew ]]; then
      install=install_with hand="brew install $names"
    elif ((EUID != 0)) && ! have sudo; then
      fail "$(missing "$thing") There is no sudo here; run $hand"
    fi
    say "installing $names from this system's packages (about a minute)"
    "$install" "$manager" "$thing" || fail "$(missing "$thing") Installing failed (see above); run $hand"
    "has_$thing" || fail "$(missing "$thing") The package $names of this system does not bring it; it may be too old."
  done
}

verb() {
  case $1 in
    apk) echo add ;;
    pacman) echo -S ;;
    *) echo install ;;
  esac
}

missing() {
  case $1 in
    postgres) echo "The programs of a PostgreSQL server, version $oldest_postgres or newer, are missing." ;;
    chromium) echo "Chromium, with which the tests look at the pages, is missing." ;;
    poppler) echo "The poppler tools pdftotext and pdftoppm, with which the tests read labels, are missing." ;;
    compiler) echo "A C compiler, which Go's race detector needs, is missing." ;;
  esac
}

need_go() {
  have go || fail "Go is missing. Install Go $(sed -n 's/^go //p' "$root/go.mod") or newer: https://go.dev/dl/"
}

# can_enter USER FOLDER: can USER come as far as FOLDER, or the part of its
# path that exists?
can_enter() {
  local folder=$2
  while [[ ! -d $folder ]]; do folder=$(dirname "$folder"); done
  # shellcheck disable=SC2016 # the inner shell expands it
  TRY=$folder su -s /bin/sh "$1" -c 'cd "$TRY"' >/dev/null 2>&1
}

# records_folder NAME: where records that a script makes go. Started by root the
# database runs as user postgres, or else nobody, who cannot enter a clone under
# /root.
records_folder() {
  local folder=$root/ashbook-data/$1 user=nobody outside
  if id postgres >/dev/null 2>&1; then user=postgres; fi
  if ((EUID != 0)) || can_enter "$user" "$folder"; then
    echo "$folder"
    return
  fi
  outside=/var/tmp/ashbook-$(printf %s "$root" | cksum | cut -d ' ' -f 1)
  # Anyone may make a folder there, so it counts only when it is root's.
  mkdir -m 0711 "$outside" 2>/dev/null || true
  [[ -d $outside && ! -L $outside && -O $outside ]] ||
    fail "$outside is in the way and is not root's; give a folder for the records with --data"
  echo "$outside/$1"
}

# build: makes bin/ashbook. It is put in place in one step, so that an ashbook
# that runs, or a second build at the same time, is not disturbed.
build() {
  local work stamp=()
  # Go would refuse to stamp the version where git refuses to read the clone.
  git -C "$root" rev-parse HEAD >/dev/null 2>&1 || stamp=(-buildvcs=false)
  mkdir -p "$root/bin"
  work=$(mktemp -d "$root/bin/.build.XXXXXX")
  # shellcheck disable=SC2064 # the folder of now
  trap "rm -rf '$work'" EXIT
  go build -C "$root" ${stamp[@]+"${stamp[@]}"} -o "$work/ashbook" ./cmd/ashbook
  mv -f "$work/ashbook" "$root/bin/ashbook"
  rm -rf "$work"
  trap - EXIT
}
