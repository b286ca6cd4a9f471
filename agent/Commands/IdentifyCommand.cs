using System.CommandLine;
using Cardassay.Agent.Sysfs;
using Cardassay.Identity;

namespace Cardassay.Agent.Commands;

/// <summary>`identify`: what a card says of itself, against what is claimed of it.</summary>
internal static class IdentifyCommand
{
    internal static Command Create() => Create(TimeProvider.System);

    /// <param name="time">Tells today, to find a date of manufacture that has not come yet.</param>
    internal static Command Create(TimeProvider time)
    {
        var target = new Argument<string>("TARGET")
        {
            Description = "A block device (mmcblk0, /dev/mmcblk0), a partition, or a folder on the card.",
        };
        var claimOptions = new ClaimOptions();
        var command = new Command(
            "identify",
            "Show what a card says of itself, and what speaks against it. Only reads what the kernel already knows of the "
            + "card; writes nothing.\nExit code 1 when there is a doubt or a contradiction, or no such card.\n\n"
            + "Example: cardassay-agent identify mmcblk0 --claim-gb 64 --claim-marks \"C10 U1 A1\" --condition new")
        {
            target, CommandLine.Json, CommandLine.Tag,
        };
        claimOptions.AddTo(command);
        command.SetAction(parsed =>
        {
            string? tag = parsed.GetValue(CommandLine.Tag);
            Claim? claim = claimOptions.Read(parsed, tag);
            CardPreview preview = CardPreview.Take(new SysfsTree(parsed.GetValue(CommandLine.Sysfs)!), parsed.GetValue(target)!,
                tag, claim, time);
            parsed.InvocationConfiguration.Output.Write(
                parsed.GetValue(CommandLine.Json) ? CardPreviewJson.Render(preview) : CardPreviewPage.Render(preview));
            return preview.HasEvidenceAgainst ? 1 : 0;
        });
        return command;
    }
}
