# Helpers for the scenarios' shell lines inside the guest.  POSIX sh (busybox).
. /bench/constants.sh
SIM=/sys/kernel/debug/simnic

# sim IFACE COMMAND...        commands to one interface (several with ';'); see ../README.md
sim() { _i=$1; shift; echo "$*" > "$SIM/$_i/ctl"; }
# up IFACE...                 administratively up
up() { for _i in "$@"; do ip link set "$_i" up; done; }
# load IFACE ADDRESS BANK PAGE FILE
# Puts FILE at that place: page 0 from byte 0, any other from byte 128.
load() {
	_o=128
	[ $(($4)) -ne 0 ] || _o=0
	dd if="$5" of="$SIM/$1/eeprom" bs=128 conv=notrunc \
	   seek=$((((($2) << 24) + (($3) << 16) + (($4) << 8) + _o) / 128)) 2>/dev/null
}
# load_images                 loads images/IFACE/ADDRESS-BANK-PAGE.bin, numbers in hex
load_images() {
	for _p in images/*/*.bin; do
		[ -f "$_p" ] || continue
		_n=$(basename "$_p" .bin); _a=${_n%%-*}; _r=${_n#*-}
		load "$(basename "$(dirname "$_p")")" $((0x$_a)) $((0x${_r%%-*})) $((0x${_r#*-})) "$_p"
	done
}
# settle                      waits until operstate has caught up with carrier: the kernel puts
#                             off the news of a carrier loss by up to a second
settle() {
	_n=0
	while [ $_n -lt 40 ]; do
		_late=
		for _p in /sys/class/net/sim*; do
			read -r _c < $_p/carrier || continue	# administratively down
			read -r _o < $_p/operstate || continue
			case $_c$_o in 1down|1lowerlayerdown|0up|0unknown) _late=1 ;; esac
		done 2>/dev/null
		[ -n "$_late" ] || return 0
		sleep 0.05; _n=$((_n + 1))
	done
}
# lw NAME ARGUMENT...         runs the program: NAME.out, NAME.err, NAME.code
lw() {
	_n=$1; shift
	linkwright "$@" > "$OUT/$_n.out" 2> "$OUT/$_n.err"
	echo $? > "$OUT/$_n.code"
}
