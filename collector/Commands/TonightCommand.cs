using System.CommandLine;
using System.Globalization;

namespace Cardassay.Collector.Commands;

/// <summary>`cards tonight`: which cards to put into which slots.</summary>
internal static class TonightCommand
{
    private static readonly string[] s_headings = ["slot", "now in it", "for the night", "hours", "why"];

    internal static Command Create()
    {
        var hours = new Option<double>("--hours")
        {
            Description = "Length of the night.",
            HelpName = "HOURS",
            DefaultValueFactory = _ => 8,
        };
        var command = new Command("tonight", "Say which cards to put into which slots for the night, when there are more cards than "
            + "slots.\n\nExample: cardassay-collector cards tonight --hours 10")
        {
            hours, CommandLine.Json,
        };
        command.SetAction((parsed, cancellationToken) => OperatorSession.ReadAsync(
            parsed,
            async session =>
            {
                V1.EveningList list = await session.Client.AdviseEveningAsync(new V1.EveningRequest { Hours = parsed.GetValue(hours) },
                    cancellationToken: cancellationToken);
                if (parsed.GetValue(CommandLine.Json))
                {
                    Show.Json(list);
                    return 0;
                }

                if (list.Slots == 0)
                {
                    Show.Paragraph(session.IsRunning
                        ? "No board shows a card in a slot, and no card was measured in one in the last two weeks, "
                            + "so that no slots are known."
                        : "No collector is running on this folder, so nothing is known of the boards: start it with `serve`.");
                    return 0;
                }

                Show.Table(
                    list.Evening.Count == 0
                        ? "The analysis has no card to propose: leave the slots as they are, or put in cards nobody has measured yet"
                        : string.Create(CultureInfo.InvariantCulture,
                            $"{list.Evening.Count} of {list.Slots} slots, the most telling first; a board measures one card at a time"),
                    s_headings,
                    list.Evening.Select(e => (IReadOnlyList<string>)
                    [
                        $"{e.Board}/{e.DiskName}",
                        e.HasCardNow ? e.CardNow : "–",
                        e.HasCardNow && e.CardNow == e.Card ? "stays" : "put in " + e.Card,
                        Hours(e.Hours),
                        e.Reason,
                    ]),
                    s_headings[..4]);
                return 0;
            },
            cancellationToken));
        return command;
    }

    /// <summary>A run of minutes is not one of no hours.</summary>
    private static string Hours(double hours) => hours < 0.05 ? "< 0.1" : hours.ToString("0.0", CultureInfo.InvariantCulture);
}
