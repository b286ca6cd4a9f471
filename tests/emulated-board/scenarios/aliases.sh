# aliases DISK SECTOR: writes `low` to sector 100 and `high` to SECTOR + 100, then prints the first bytes of both sectors as the
# card itself gives them.
put() {
    { printf '%-512s' "$2" | dd of=/dev/"$disk" bs=512 count=1 seek="$1" oflag=direct conv=notrunc; } 2> /tmp/dd.err || { cat /tmp/dd.err; exit 1; }
}
get() {
    dd if=/dev/"$disk" bs=512 count=1 skip="$1" iflag=direct 2> /tmp/dd.err | head -c 4 | od -An -tx1 | tr -d ' '
}
disk=$1
put 100 low
put $(($2 + 100)) high
echo "low=$(get 100)"
echo "high=$(get $(($2 + 100)))"
