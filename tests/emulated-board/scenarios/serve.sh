# serve COLLECTOR DISK SECTORS: serves the collector until the guest ends. Marks `reading` once the agent has read so many sectors of that
# card since now, `gone` when it is pulled, and then `resident` with the agent's VmRSS in kB.
own_disk || exit 1
cardassay-agent work --data /mnt/agent --plain-text --collector "http://$1" > /dev/told 2>&1 &
agent=$!
disk=$2
before=$(awk '{ print $3 }' /sys/block/"$disk"/stat)
is_read() { [ "$(awk '{ print $3 }' /sys/block/"$disk"/stat 2> /dev/null || echo 0)" -gt "$((before + $3))" ]; }
is_gone() { [ ! -e /sys/block/"$disk" ]; }
await is_read "$@"
mark reading
await is_gone
mark gone
mark resident "$(awk '/^VmRSS:/ { print $2 }' /proc/$agent/status)"
wait $agent
