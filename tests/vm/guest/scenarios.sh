# Runs every scenario folder, one after another, in this guest.  The interfaces are made afresh
# for each.  Results: setup.log, what the commands wrote, and for each interface that is still
# there NAME.ctl (all values, counts of reads and of attempts to change a setting) and
# NAME.readlog (each read of module memory).
top=/out
for dir in /bench/scenarios/*/; do
	name=$(basename "$dir")
	cd "$dir" || continue
	[ -d /sys/module/simnic ] && rmmod simnic
	insmod "/lib/modules/$(uname -r)/simnic.ko" n="$(cat ports)" || exit 1
	export OUT="$top/$name"
	mkdir -p "$OUT"
	(
		set -e
		. /bench/lib.sh
		load_images
		. ./setup.sh
		settle
	) > "$OUT/setup.log" 2>&1 || echo "setup failed" >> "$OUT/setup.log"
	(. /bench/lib.sh; . ./commands.sh) > "$OUT/commands.log" 2>&1 < /dev/null
	for d in /sys/kernel/debug/simnic/*/; do
		i=$(basename "$d")
		[ -f "$d/ctl" ] && cat "$d/ctl" > "$OUT/$i.ctl" && cat "$d/readlog" > "$OUT/$i.readlog"
	done
done
