using System.CommandLine;
using System.Globalization;
using Cardassay.Collector.Hosting;
using Cardassay.Collector.Report.First;

namespace Cardassay.Collector.Commands;

/// <summary>`cards`: every card in the master data set.</summary>
internal static class CardsCommand
{
    internal static Command Create()
    {
        var slot = new Option<string?>("--in")
        {
            Description = "The card that is in this slot now bears the sticker --tag.",
            HelpName = "BOARD/DISK",
        };
        var tag = new Option<string?>("--tag") { Description = "The sticker, with --in.", HelpName = "TAG" };
        var command = new Command(
            "cards",
            "List the cards with their verdicts, or say which sticker the card in a slot bears.\n\nExample: "
                + "cardassay-collector cards --in harbour-1/mmcblk0 --tag T-07")
        {
            slot, tag, CommandLine.Json, ReceiveCommand.Create(), TonightCommand.Create(),
        };
        command.SetAction((parsed, cancellationToken) => OperatorSession.RunAsync(
            parsed,
            async session =>
            {
                if (parsed.GetValue(slot) is not null || parsed.GetValue(tag) is not null)
                {
                    await GiveTagAsync(session, parsed.GetValue(slot), parsed.GetValue(tag), cancellationToken);
                    return 0;
                }

                V1.CardList list = await session.Client.ListCardsAsync(new V1.ListCardsRequest(), cancellationToken: cancellationToken);
                if (parsed.GetValue(CommandLine.Json))
                {
                    Show.Json(list);
                    return 0;
                }

                Show.TableOfLines(
                    list.Cards.Count == 0
                        ? "No card is known yet; `cards receive` takes one in, `claim TAG` says what is printed on one."
                        : $"{list.Cards.Count} cards; --json has boards and trials, `report CARD` has all of one", Headings,
                        Rows(list), Headings[..2]);
                return 0;
            },
            cancellationToken,
            use: parsed.GetValue(slot) is null && parsed.GetValue(tag) is null ? DataUse.Reading : DataUse.Writing));
        return command;
    }

    internal static readonly string[] Headings = ["card", "product and identity", "verdict", "runs"];

    /// <summary>The table, which fits 80 columns without a broken word.</summary>
    internal static IEnumerable<IReadOnlyList<string>> Rows(V1.CardList list) => list.Cards.Select(c => (IReadOnlyList<string>)
    [
        (c.Tag.Length == 0 ? "(no tag)" : Show.Clean(c.Tag)) + (c.Reference ? "\nreference" : ""),
        (c.Claim.Length == 0 ? "nothing claimed" : string.Join('\n', FirstPageText.Wrap(c.Claim, MostIdentityChars, "")))
            + (c.Identity.Length == 0 ? "" : "\n" + Identity(c)),
        Show.Clean(c.Verdict),
        c.Runs.ToString(CultureInfo.InvariantCulture),
    ]);

    /// <summary>The identity, of a long one its end, where serial numbers differ.</summary>
    private static string Identity(V1.Card card)
    {
        string identity = Show.Clean(card.Identity);
        return (identity.Length > MostIdentityChars ? "…" + identity[^(MostIdentityChars - 1)..] : identity)
            + (card.IdentityFromRegisters ? "" : "\n(registers hidden)");
    }

    private const int MostIdentityChars = 40;

    private static async Task GiveTagAsync(OperatorSession session, string? slot, string? tag, CancellationToken cancellationToken)
    {
        string[] parts = (slot ?? "").Split('/');
        if (parts is not [{ Length: > 0 } board, { Length: > 0 } disk] || tag is null)
        {
            throw new CommandException("Give both: --in BOARD/DISK, for example harbour-1/mmcblk0, and --tag TAG.", 2);
        }

        V1.TagRecorded recorded = await session.Client.GiveTagAsync(
            new V1.GiveTagRequest { Board = board, DiskName = disk, Tag = tag }, cancellationToken: cancellationToken);
        Console.WriteLine($"The card in {disk} of {board}, {Show.Clean(recorded.TagGiven.Identity)}, is {recorded.TagGiven.Tag}; "
            + "so are its runs since it was put in.");
    }
}
