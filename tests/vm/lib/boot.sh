#!/bin/bash
# boot.sh BINARY STAGE OUT: starts one guest that runs every scenario folder of STAGE with BINARY
# at hand, and powers it off.  What the guest wrote is then in OUT.
. "$(dirname "$0")/common.sh"
binary=$1 stage=$2 out=$3
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
root=$work/root
mkdir -p "$root/bin" "$root/bench"
strip -o "$root/bin/linkwright" "$binary"
chmod 755 "$root/bin/linkwright"
# Every absolute path that the dynamic loader names, the loader included.
{ ldd "$binary" 2>/dev/null || true; } | grep -oE '/[^ ():]+' | sort -u | while read -r library; do
	[ -f "$library" ] || continue
	mkdir -p "$root$(dirname "$library")"
	cp -L "$library" "$root$library"
done
cp -a "$stage" "$root/bench/scenarios"
(cd "$root" && find . -print0 | cpio -0 -o -H newc --quiet) > "$work/overlay.cpio"
cat "$VM_CACHE/built/base.cpio" "$work/overlay.cpio" > "$work/initrd"

# Hardware virtualisation only where the processor itself has it: a software-nested /dev/kvm
# opens but may not start a stock kernel, and plain emulation starts in seconds.
accel=tcg cpu=qemu64
if [ "${VM_ACCEL:-auto}" != tcg ] && [ -w /dev/kvm ] && grep -qwE 'vmx|svm' /proc/cpuinfo; then accel=kvm cpu=host; fi
code=0
timeout "$VM_TIMEOUT" qemu-system-x86_64 -machine q35 -accel "$accel" -cpu "$cpu" \
	-smp "$VM_PROCESSORS" -m "$VM_MEMORY" -nodefaults -nographic -no-reboot -serial stdio \
	-kernel "$VM_CACHE/vmlinux" -initrd "$work/initrd" \
	-append "console=ttyS0 quiet panic=-1 rdinit=/init mitigations=off nokaslr tsc=reliable net.ifnames=0" \
	-virtfs "local,path=$out,mount_tag=out,security_model=none" \
	</dev/null >"$out/console.log" 2>&1 || code=$?
if [ "$code" = 124 ]; then fail "the guest ran over $VM_TIMEOUT s; see $out/console.log"; fi
if [ ! -s "$out/done" ]; then
	tail -20 "$out/console.log"
	fail "the guest ended without a result; see $out/console.log"
fi
echo "vm bench: guest kernel $(cat "$out/kernel"), $accel, $VM_PROCESSORS processors"
