# Shared by the bench's scripts: settings, and the two ways to end early.  Sourced, not run.
set -eu
VM_DIR=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)
VM_CACHE=${VM_CACHE:-${XDG_CACHE_HOME:-$HOME/.cache}/linkwright-vm}	# kernel and built parts, about 560 MB
VM_MEMORY=${VM_MEMORY:-512}	# guest memory, MiB
VM_PROCESSORS=${VM_PROCESSORS:-2}
VM_TIMEOUT=${VM_TIMEOUT:-600}	# seconds for the whole guest run
mkdir -p "$VM_CACHE"

say() { echo "vm bench: $*" >&2; }
# Something is wrong with the bench itself: that is a failure.
fail() { echo "vm bench: FAILED: $*"; exit 1; }
# This machine cannot run it: neither passed nor failed, and said loudly.
skip() { echo "vm bench: SKIPPED: $*"; exit 77; }
kernel_version() { cat "$VM_CACHE/kernel-version"; }
