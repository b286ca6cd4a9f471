# backlog: what has no receipt yet, as JSON.
own_disk || exit 1
exec cardassay-agent backlog --json --data /mnt/agent 2> /dev/told
