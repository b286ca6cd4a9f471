using System.CommandLine;
using System.Globalization;

namespace Cardassay.Collector.Commands;

/// <summary>`cards`: every card in the master data set.</summary>
internal static class CardsCommand
{
    internal static Command Create()
    {
        var command = new Command("cards", "List the cards with their verdicts.\n\nExample: cardassay-collector cards --data ./cards --json")
        {
            CommandLine.Json,
        };
        command.SetAction((parsed, cancellationToken) => OperatorSession.RunAsync(
            parsed.GetValue(CommandLine.Data)!,
            async session =>
            {
                V1.CardList list = await session.Client.ListCardsAsync(new V1.ListCardsRequest(), cancellationToken: cancellationToken);
                if (parsed.GetValue(CommandLine.Json))
                {
                    Show.Json(list);
                    return 0;
                }

                Show.Table(
                    list.Cards.Count == 0 ? "No card has been measured yet." : $"{list.Cards.Count} cards",
                    ["tag", "claim", "verdict", "identity", "runs", "trials", "boards"],
                    list.Cards.Select(c => (IReadOnlyList<string>)
                    [
                        (c.Tag.Length == 0 ? "(no tag)" : c.Tag) + (c.Reference ? " (reference)" : ""),
                        c.Claim.Length == 0 ? "none" : c.Claim,
                        c.Verdict,
                        c.Identity + (c.IdentityFromRegisters || c.Identity.Length == 0 ? "" : " (registers hidden)"),
                        c.Runs.ToString(CultureInfo.InvariantCulture),
                        c.Trials.ToString(CultureInfo.InvariantCulture),
                        string.Join(", ", c.Boards),
                    ]));
                return 0;
            },
            cancellationToken));
        return command;
    }
}
