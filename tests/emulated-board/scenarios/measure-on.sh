# measure-on DISK TAG IDENTITY PLAN COLLECTOR: the same again and again, until the agent refuses. Marks `trial` whenever the agent says
# that a trial is kept.
own_disk || exit 1
while [ "$(cat /tmp/code 2> /dev/null)" != 2 ]; do
    {
        cardassay-agent measure /dev/"$1" --tag "$2" --erase "$3" --plan /plans/"$4".json --data /mnt/agent --plain-text --collector "http://$5" 2>&1 > /dev/null
        echo $? > /tmp/code
    } | while read -r line; do
        echo "$line" > /dev/told
        case $line in
            [0-9]*' p99 '*) mark trial ;;
        esac
    done
done
exit 2
