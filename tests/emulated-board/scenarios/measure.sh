# measure DISK TAG IDENTITY PLAN COLLECTOR: runs a plan on a card, overwriting it, and waits for the receipts. Prints the result as JSON.
# An emulated card is now and then faster than its bus mode allows; the agent rightly calls such a trial invalid and ends with 1.
own_disk || exit 1
cardassay-agent measure /dev/"$1" --tag "$2" --erase "$3" --plan /plans/"$4".json --data /mnt/agent --plain-text --collector "http://$5" --json 2> /dev/told
[ $? -le 1 ]
