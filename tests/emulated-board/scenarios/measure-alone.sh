# measure-alone DEVICE IDENTITY PLAN: runs a plan on /dev/DEVICE without a collector, overwriting it, and prints the result as JSON.
# An emulated card is now and then faster than its bus mode allows; the agent rightly calls such a trial invalid and ends with 1.
cardassay-agent measure /dev/"$1" --erase "$2" --allow-fixed-disk --plan /plans/"$3".json --data /tmp/measures --json 2> /dev/told
[ $? -le 1 ]
