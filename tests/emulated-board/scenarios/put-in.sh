# put-in DISK=CID...: holds the agent, says `held`, waits until the host has put a card into each slot, lets them show these CIDs, and lets go of
# the agent. Cards of the emulator all say the same of themselves, and a hand cannot be quicker than the agent's look.
kill -STOP "$(cat /tmp/agent)"
mark held
grep -o ' [^ ]*/device/cid ' /proc/mounts | while read -r gone; do
    umount -l "$gone"
done
is_in() { [ "$(cat /sys/block/"$1"/size 2> /dev/null || echo 0)" -gt 0 ]; }
for entry in "$@"; do
    disk=${entry%%=*}
    await is_in "$disk"
    mkdir -p /tmp/presented/"$disk"
    echo "${entry#*=}" > /tmp/presented/"$disk"/cid
    mount --bind /tmp/presented/"$disk"/cid /sys/block/"$disk"/device/cid || exit 1
done
kill -CONT "$(cat /tmp/agent)"
