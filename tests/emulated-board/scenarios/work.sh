# work COLLECTOR [DISK]: serves the collector until nothing is left to do. With DISK it marks `reading` once the agent has read 5 MiB
# of that card, and `another` once it has read as much of the card put in after that one was pulled.
own_disk || exit 1
cardassay-agent work --until-idle --data /mnt/agent --plain-text --collector "http://$1" > /dev/told 2>&1 &
agent=$!
disk=$2
sectors_read() { awk '{ print $3 }' /sys/block/"$disk"/stat 2> /dev/null || echo 0; }
is_read() { [ "$(sectors_read)" -gt 10240 ]; } # more than the 4 MiB that the preparation checks, and no more than a slow machine reads in the trial
is_gone() { [ ! -e /sys/block/"$disk" ]; }
if [ -n "$disk" ]; then
    await is_read
    mark reading
    await is_gone
    mark gone
    await is_read
    mark another
fi
wait $agent
