# begin-work COLLECTOR: lets the agent serve the collector from now on, and comes back.
own_disk || exit 1
cardassay-agent work --data /mnt/agent --plain-text --collector "http://$1" > /dev/told 2>&1 &
echo $! > /tmp/agent
