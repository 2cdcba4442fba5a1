#!/bin/bash
# Prints shell assignments for the numbers that a scenario's setup needs, taken from the kernel's
# own user-space header given as $1: the names there are the kernel's.
set -eu
h=$1
# LM_<mode>=<bit>
sed -n 's/^\t*ETHTOOL_LINK_MODE_\([A-Za-z0-9_]*\)_BIT[[:space:]]*= *\([0-9]*\),.*/LM_\1=\2/p' "$h" | sort -u -t= -k2n
# EXT_<state>=<n>, counted from 0 in order
awk '/^enum ethtool_link_ext_state \{/ {on=1; n=0; next} on && /^\}/ {exit}
     on && match($0, /ETHTOOL_LINK_EXT_STATE_[A-Z_]+/) {
	s=substr($0, RSTART+23, RLENGTH-23); print "EXT_" s "=" n++ }' "$h"
# SUB_<substate>=<n>; each list starts at 1
awk '/^enum ethtool_link_ext_substate_/ {on=1; n=1; next} on && /^\}/ {on=0}
     on && match($0, /ETHTOOL_LINK_EXT_SUBSTATE_[A-Z_]+/) {
	s=substr($0, RSTART+26, RLENGTH-26); print "SUB_" s "=" n++ }' "$h"
# FEC_<mode>=<bit mask>
awk '/^enum ethtool_fec_config_bits \{/ {on=1; n=0; next} on && /^\}/ {exit}
     on && match($0, /ETHTOOL_FEC_[A-Z0-9]+_BIT/) {
	s=substr($0, RSTART+12, RLENGTH-16); print "FEC_" s "=" 2^n; n++ }' "$h"
# PORT_<type>=<n>
awk '/^#define\tPORT_|^#define PORT_/ {print $2 "=" $3}' "$h"
