#!/bin/bash
# Puts Debian's kernel image, headers and build scripts into the cache.  The packages come from
# Debian's package sources and are unpacked, never installed: this machine's boot files stay.
. "$(dirname "$0")/common.sh"
[ -s "$VM_CACHE/kernel-version" ] && [ -s "$VM_CACHE/vmlinux" ] && exit 0

image=$(apt-cache depends linux-image-amd64 2>/dev/null | awk '/Depends: linux-image-/ {print $2; exit}')
[ -n "$image" ] || skip "the package lists have no linux-image-amd64 (apt-get update first)"
version=${image#linux-image-}
headers=linux-headers-$version
needs() { apt-cache depends "$headers" | awk -v w="$1" '$1=="Depends:" && $2 ~ w {print $2; exit}'; }
rm -rf "$VM_CACHE/debs" "$VM_CACHE/k"
mkdir -p "$VM_CACHE/debs" "$VM_CACHE/k"
say "fetching $image and its headers"
(cd "$VM_CACHE/debs" && apt-get -q download "$image" "$headers" "$(needs '-common$')" "$(needs '^linux-kbuild')" >&2) ||
	skip "the kernel packages could not be downloaded"
for deb in "$VM_CACHE"/debs/*.deb; do dpkg-deb -x "$deb" "$VM_CACHE/k"; done
rm -rf "$VM_CACHE/debs"

# The header package names its other half by an absolute path.
source=$VM_CACHE/k/usr/src
sed -i "s|/usr/src/|$source/|" "$source/$headers/Makefile"
rm -f "$VM_CACHE/k/lib/modules/$version/build" "$VM_CACHE/k/lib/modules/$version/source"

# A packed image unpacks itself, which is slow without hardware virtualisation.  QEMU starts the
# unpacked ELF file directly.
packed=$VM_CACHE/k/boot/vmlinuz-$version
is_elf() { [ "$(head -c 4 "$VM_CACHE/vmlinux" | tail -c 3)" = ELF ]; }
unpack() {	# unpack MAGIC UNPACKER...
	local magic=$1 at; shift
	for at in $(LC_ALL=C grep -abo "$magic" "$packed" | cut -d: -f1); do
		tail -c +$((at + 1)) "$packed" | "$@" > "$VM_CACHE/vmlinux" 2>/dev/null || true
		if is_elf; then return 0; fi
	done
	return 1
}
unpack $'\xfd7zXZ' xz -dc || unpack $'\x28\xb5\x2f\xfd' zstd -dc || fail "could not unpack the kernel image"
echo "$version" > "$VM_CACHE/kernel-version"
say "kernel $version is in the cache"
