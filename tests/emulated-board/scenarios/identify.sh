# identify DISK: what the agent says of a card, as JSON. Exit code 1 means that something speaks against the card.
cardassay-agent identify /dev/"$1" --json 2> /dev/told
[ $? -le 1 ]
