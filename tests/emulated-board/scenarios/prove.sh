# prove DEVICE IDENTITY [--full]: proves the capacity of /dev/DEVICE, overwriting it, and prints the result as JSON; then how the agent
# ended: 0 nothing found, 1 found.
device=$1
identity=$2
shift 2
cardassay-agent prove /dev/"$device" --erase "$identity" --allow-fixed-disk --data /tmp/proofs --json "$@" 2> /dev/told
code=$?
echo "ended with $code"
[ $code -le 1 ]
