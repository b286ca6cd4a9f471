using Cardassay.Agent.Conditions;
using Cardassay.Agent.Guard;
using Cardassay.Agent.Sysfs;
using Cardassay.Identity;
using Cardassay.Registers;

namespace Cardassay.Agent.Commands;

/// <summary>All `identify` knows of one card: what was read, what was claimed, and the verdict those two allow.</summary>
internal sealed record CardPreview
{
    /// <summary>
    /// A clock that reads less is wrong: this program runs on .NET 10, which was released in November 2025. Boards without a
    /// battery wake up in 1970 or on the day their system was built.
    /// </summary>
    internal static readonly DateOnly EarliestSensibleDay = new(2025, 11, 1);

    internal required CardSighting Sighting { get; init; }

    internal required ResolvedTarget Target { get; init; }

    internal required CardRegisters Registers { get; init; }

    internal required CardFacts Facts { get; init; }

    /// <summary>
    /// State of the card bus; absent for a disk on another bus, and unreadable for anybody but root where no helper reads it.
    /// </summary>
    internal required Reading<BusState> Bus { get; init; }

    /// <summary>Errors the kernel counted on the card bus since the host started; null when it does not tell.</summary>
    internal long? LinkErrors { get; init; }

    /// <summary>Wear of an eMMC as it states it; null for anything else.</summary>
    internal MmcHealth? Health { get; init; }

    /// <summary>True when the running system stands on this card.</summary>
    internal bool HoldsSystem { get; init; }

    internal string? Tag { get; init; }

    internal Claim? Claim { get; init; }

    /// <summary>What the board's clock calls today.</summary>
    internal required DateOnly BoardDay { get; init; }

    internal required CardJudgement Judgement { get; init; }

    /// <summary>True when the clock can be right; else no date is compared with today.</summary>
    internal bool IsClockSensible => BoardDay >= EarliestSensibleDay;

    /// <summary>True when there is a doubt or a contradiction.</summary>
    internal bool HasEvidenceAgainst => Judgement.Findings.Any(f => f.Severity > FindingSeverity.Note);

    /// <summary>Looks at a card. Reads sysfs and debugfs only: the card itself is not touched.</summary>
    /// <exception cref="CommandException">There is no such card.</exception>
    internal static CardPreview Take(SysfsTree tree, string targetName, string? tag, Claim? claim, TimeProvider time)
    {
        TargetResolution resolution = new TargetResolver(tree).Resolve(targetName);
        if (!resolution.Found)
        {
            throw new CommandException(
                SlotChecks.WhyNoCard(tree, targetName) is { } why ? $"{resolution.Problem} {why}" : resolution.Problem);
        }

        ResolvedTarget target = resolution.Target;
        if (target.DiskName is not { } disk)
        {
            throw new CommandException($"{target.Remark ?? "No disk was found below the target."} Name the card's "
                + "device, for example mmcblk0.");
        }

        CardSighting sighting = CardSighting.Take(tree, disk)
            ?? throw new CommandException($"{disk} is gone; put the card in and try again.");
        CardRegisters registers = CardRegisters.From(sighting.Files, sighting.DiskBytes, sighting.Attachment);
        DateOnly day = DateOnly.FromDateTime(time.GetUtcNow().UtcDateTime);
        var evidence = new CardEvidence { Registers = registers, Claim = claim, Today = day >= EarliestSensibleDay ? day : null };
        var bus = new HelperBusFiles(tree);
        string? host = ConditionsReader.HostOf(tree, disk);
        return new CardPreview
        {
            Sighting = sighting,
            Target = target,
            Registers = registers,
            Facts = CardFacts.Of(registers),
            Bus = host is null ? Reading<BusState>.Absent() : ReadBus(bus.Ios(host)),
            LinkErrors = host is not null && bus.ErrorStatistics(host) is { IsKnown: true, Value: { } errors }
                ? BusState.SumOfErrors(errors)
                : null,
            Health = registers.Type == CardType.Mmc
                ? MmcHealth.Parse(TextOf(sighting, "life_time"), TextOf(sighting, "pre_eol_info"))
                : null,
            HoldsSystem = new OverwriteGuard(tree).HoldsSystem(disk),
            Tag = tag,
            Claim = claim,
            BoardDay = day,
            Judgement = CardJudge.Judge(evidence),
        };
    }

    /// <summary>The text of a register file, or null when there is none to read.</summary>
    internal static string? TextOf(CardSighting sighting, string file) =>
        sighting.Files.TryGetValue(file, out Reading<string> text) && text.IsKnown ? text.Value : null;

    private static Reading<BusState> ReadBus(Reading<string> text) => text switch
    {
        { State: ReadingState.Absent } => Reading<BusState>.Absent(),
        { State: ReadingState.Unreadable } => Reading<BusState>.Unreadable(text.Reason!),
        _ when BusState.Parse(text.Value!) is { } state && state != new BusState(null, null, null, null, null) =>
            Reading<BusState>.Known(state),
        _ => Reading<BusState>.Unreadable("its text does not hold a bus state"),
    };
}
