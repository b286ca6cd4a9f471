# read-until-pulled DISK: reads the card until it fails; then waits for another one in the same slot. The host pulls and inserts.
before=$(cat /sys/block/"$1"/diskseq)
i=0
while dd if=/dev/"$1" of=/dev/null bs=1M count=4 iflag=direct 2> /tmp/dd.err; do
    i=$((i + 1))
    [ $i -ne 1 ] || mark reading
done
tail -1 /tmp/dd.err
gone() { [ ! -e /sys/block/"$disk" ]; }
present() { [ -e /sys/block/"$disk"/diskseq ]; }
disk=$1
await gone
mark gone
await present
echo "diskseq $before -> $(cat /sys/block/"$1"/diskseq)"
[ "$before" != "$(cat /sys/block/"$1"/diskseq)" ]
