#!/bin/bash
# Builds simnic.ko and the base of the guest's file system into the cache, where something changed.
. "$(dirname "$0")/common.sh"
version=$(kernel_version)
built=$VM_CACHE/built
mkdir -p "$built/module"

# One checksum over all inputs.
sum=$(cat "$VM_DIR"/module/* "$VM_DIR"/guest/* "$VM_DIR"/lib/* "$VM_CACHE/kernel-version" | sha256sum | cut -c1-16)
if [ "$(cat "$built/sum" 2>/dev/null)" = "$sum" ] && [ -s "$built/base.cpio" ]; then exit 0; fi
rm -f "$built/sum"

say "building simnic.ko for $version"
cp "$VM_DIR"/module/* "$built/module/"
make -s -C "$VM_CACHE/k/usr/src/linux-headers-$version" M="$built/module" modules >"$built/module.log" 2>&1 ||
	{ cat "$built/module.log" >&2; fail "simnic.ko did not build"; }

# Names of link modes and extended states for setup scripts, from the kernel's header.
"$VM_DIR/lib/constants.sh" "$VM_CACHE/k/usr/src/linux-headers-${version%-*}-common/include/uapi/linux/ethtool.h" > "$built/constants.sh"

root=$built/root
rm -rf "$root"
mkdir -p "$root"/{bin,sbin,dev,proc,sys,tmp,run,etc,bench,lib/modules/$version,usr/bin,usr/sbin}
cp "$(command -v busybox)" "$root/bin/busybox"
ln -s busybox "$root/bin/sh"
install -m 755 "$VM_DIR/guest/init" "$root/init"
cp "$VM_DIR"/guest/*.sh "$built/constants.sh" "$root/bench/"
strip -g -o "$root/lib/modules/$version/simnic.ko" "$built/module/simnic.ko"

# Modules of the stock kernel for the shared output folder, with what they need.
k=$VM_CACHE/k
cp "$k/lib/modules/$version"/modules.builtin* "$k/lib/modules/$version/modules.order" "$root/lib/modules/$version/"
[ -s "$k/lib/modules/$version/modules.dep" ] || /sbin/depmod -b "$k" "$version"
for name in virtio_pci 9pnet_virtio 9p; do
	/sbin/modprobe -d "$k" -S "$version" --show-depends "$name" | awk '$1=="insmod"{print $2}'
done | sort -u | while read -r file; do
	below=${file#"$k"/lib/modules/$version/}
	mkdir -p "$root/lib/modules/$version/$(dirname "$below")"
	cp "$file" "$root/lib/modules/$version/$below"	# as it is: its signature stays valid
done
/sbin/depmod -b "$root" "$version"
(cd "$root" && find . -print0 | LC_ALL=C sort -z | cpio -0 -o -H newc --quiet) > "$built/base.cpio"
echo "$sum" > "$built/sum"
