using System.CommandLine;
using System.Globalization;
using Cardassay.Collector.Analysis.Explaining;
using Cardassay.Collector.Hosting;
using Cardassay.Collector.Report;
using Cardassay.Collector.Report.First;
using Cardassay.Identity;
using Cardassay.Plans;
using Cardassay.Wire;
using Grpc.Core;

namespace Cardassay.Collector.Commands;

/// <summary>`cards receive`: asks of each card that is put into a slot what only a person can say.</summary>
internal static class ReceiveCommand
{
    internal static Command Create()
    {
        var claims = new Option<string?>("--claims")
        {
            Description = "A table of the purchase, as for `claim --csv`: a scanned sticker finds its row.",
            HelpName = "FILE",
        };
        var plan = new Option<string?>("--plan")
        {
            Description = "What a card is to do that may be overwritten: a built-in plan. "
                + "Without it what the slot's standing order says, or system-disk once.",
            HelpName = "PLAN",
        };
        var repeat = new Option<uint>("--repeat") { Description = "Runs of it.", HelpName = "N", DefaultValueFactory = _ => 1 };
        var once = new Option<bool>("--once") { Description = "Stop when no card waits, instead of waiting for the next one." };
        var command = new Command(
            "receive",
            "Take cards in, one after the other as they are put into slots: sticker, claim, price, and whether the card may be "
            + "overwritten. Enter takes what stands in brackets, - leaves it out.\n\nExample: "
            + "cardassay-collector cards receive --claims purchase.csv")
        {
            claims, plan, repeat, once,
        };
        command.SetAction((parsed, cancellationToken) =>
        {
            string name = parsed.GetValue(plan) ?? "";
            if (name.Length > 0 && !BuiltInPlans.Names.Contains(name))
            {
                throw new CommandException($"--plan \"{name}\": use {string.Join(", ", BuiltInPlans.Names)}; "
                    + "a plan of your own is set with `schedule`.", 2);
            }

            ClaimCsv? table = parsed.GetValue(claims) is { } file ? ClaimCsv.OfFile(file, [], false, null) : null;
            if (table is { IsSure: false })
            {
                throw new CommandException("--claims: headings, numbers or lines of this table would have to be guessed at; "
                    + "`claim --csv FILE --dry-run` shows how, and `claim --csv FILE --record` keeps it.", 2);
            }

            return OperatorSession.RunAsync(
                parsed,
                session => session.IsRunning
                    ? new CardTalk(session.Client, Console.In, Console.Out, name, parsed.GetValue(repeat), table?.Claims ?? [])
                        .RunAsync(parsed.GetValue(once), cancellationToken)
                    : throw new CommandException($"No collector is running on {session.Place.Folder}, so no board shows its cards: "
                        + "start one with `cardassay-collector serve`.", 2),
                cancellationToken);
        });
        return command;
    }
}

/// <summary>The questions about each card, and what is done with the answers.</summary>
/// <param name="collector">The running collector.</param>
/// <param name="input">Where the answers come from; at its end the talk is over.</param>
/// <param name="output">Where the questions go.</param>
/// <param name="plan">Plan of a card that may be overwritten; "" for what the slot's standing order says.</param>
/// <param name="repeat">Runs of it.</param>
/// <param name="purchase">Claims known before the cards are seen.</param>
internal sealed class CardTalk(
    V1.Operator.OperatorClient collector, TextReader input, TextWriter output, string plan, uint repeat, IReadOnlyList<Claim> purchase)
{
    private const int Columns = 80;
    private static readonly TimeSpan s_look = TimeSpan.FromSeconds(1);
    private readonly HashSet<V1.Medium> _left = [];
    private int _received;

    /// <summary>Asks until there is no more input, or no card waits.</summary>
    /// <returns>0; 1 when a card was left.</returns>
    internal async Task<int> RunAsync(bool once, CancellationToken cancellationToken)
    {
        bool isWaiting = false;
        while (true)
        {
            V1.WaitingList list = await collector.ListWaitingAsync(new V1.ListWaitingRequest(), cancellationToken: cancellationToken);
            if (list.Cards.FirstOrDefault(c => !_left.Contains(c.Medium)) is { } card)
            {
                isWaiting = false;
                if (!await AskAsync(list, card, cancellationToken))
                {
                    break;
                }
            }
            else if (once)
            {
                break;
            }
            else
            {
                if (!isWaiting)
                {
                    Say("Waiting for a card. Nothing is written on one without its consent. Ctrl-C ends.");
                    isWaiting = true;
                }

                await Task.Delay(s_look, cancellationToken);
            }
        }

        Say($"{Wording.Count(_received, "card", "cards")} taken "
            + $"in{(_left.Count > 0 ? $", {_left.Count.ToString(CultureInfo.InvariantCulture)} left" : "")}.");
        return _left.Count > 0 ? 1 : 0;
    }

    /// <summary>False when there is no more input.</summary>
    private async Task<bool> AskAsync(V1.WaitingList list, V1.WaitingCard card, CancellationToken cancellationToken)
    {
        V1.Medium medium = card.Medium;
        Say("");
        Say(string.Create(CultureInfo.InvariantCulture,
            $"{medium.Board}/{medium.DiskName}: {card.DiskBytes / 1e9:0.##} GB, {medium.Identity}"));
        Say($"  {string.Join("; ", card.Facts.Prepend(card.How.TrimEnd('.')))}.");
        // of a card with a sticker it comes with the claim
        string[] seen = card.Tag.Length > 0 ? [] : [.. card.Preview.Where(line => line != card.How)];
        foreach (string line in seen)
        {
            Say($"  {line}");
        }

        try
        {
            if ((card.Tag.Length > 0 ? card.Tag : Sticker(list)) is not { } tag)
            {
                return false;
            }

            if (tag.Length == 0)
            {
                _left.Add(medium);
                return true;
            }

            // What is known of the sticker already, from a table or from `claim`, is not asked again.
            Claim claim = purchase.FirstOrDefault(c => c.Tag == tag) ?? new Claim { Tag = tag };
            V1.CardReceived known = await JudgeAsync(medium, claim, cancellationToken);
            if (card.Tag.Length == 0 && known.Claim is { HasProduct: false, HasLabelGigabytes: false })
            {
                if (Product(list, card, tag) is not { } chosen)
                {
                    return false;
                }

                claim = chosen;
                known = await JudgeAsync(medium, claim, cancellationToken);
            }

            SayJudgement(tag, known, seen);
            string runs = plan.Length == 0 && card.Order.Length > 0
                ? card.Order
                : string.Create(CultureInfo.InvariantCulture, $"{repeat} x {(plan.Length == 0 ? CardReception.UsualPlan : plan)}");
            if (Read($"  y DESTROYS everything on this card by {runs}; Enter schedules nothing: ") is not { } consent)
            {
                return false;
            }

            if (card.Tag.Length > 0 && consent is not ("y" or "Y"))
            {
                _left.Add(medium); // its sticker is known; it waits on for the consent
                return true;
            }

            Told(tag, await collector.ReceiveCardAsync(
                new V1.ReceiveCardRequest
                {
                    Medium = medium, Claim = ClaimCodec.ToMessage(claim), Entry = consent is "y" or "Y" ? Entry(medium) : null,
                },
                cancellationToken: cancellationToken));
        }
        catch (RpcException e) when (e.StatusCode is StatusCode.FailedPrecondition or StatusCode.InvalidArgument)
        {
            Say($"  {e.Status.Detail}"); // it is asked again as long as it is there
        }

        return true;
    }

    private void SayJudgement(string tag, V1.CardReceived known, string[] seen)
    {
        bool isClaimed = ClaimCodec.FromMessage(known.Claim) is var all && all != new Claim { Tag = tag };
        Say(isClaimed
            ? $"  {tag} is claimed to be: {Explain.ClaimText(all)}."
            : $"  Nothing is claimed of {tag}, so that there is no label to judge; `claim {tag}` says it later.");
        foreach (string line in known.Findings.Concat(known.Notes).Except(seen, StringComparer.Ordinal))
        {
            Say($"  {line}");
        }

        if (isClaimed && known.Findings.Count == 0)
        {
            Say($"  {SlotPreviews.NothingAgainst}");
        }
    }

    private async Task<V1.CardReceived> JudgeAsync(V1.Medium medium, Claim claim, CancellationToken cancellationToken) =>
        await collector.ReceiveCardAsync(new V1.ReceiveCardRequest { Medium = medium, Claim = ClaimCodec.ToMessage(claim), DryRun = true },
            cancellationToken: cancellationToken);

    private V1.ScheduleEntry Entry(V1.Medium medium) => new() { PlanName = plan, Repeat = repeat, EraseIdentity = medium.Identity };

    private void Told(string tag, V1.CardReceived received)
    {
        _received++;
        foreach (string note in received.Entry is null ? [] : received.Notes)
        {
            Say($"  {note}");
        }

        Say(received.Entry is { } entry
            ? string.Create(CultureInfo.InvariantCulture,
                $"  {tag} is taken in: "
                    + $"{(entry.UntilSettled ? ScheduleOptions.UntilSettled(entry.PlanName) : $"{entry.Repeat} x {entry.PlanName}")} on "
                    + $"{entry.Board}.")
            : received.NotScheduled.Length > 0 ? $"  {tag} is taken in and NOT scheduled: {received.NotScheduled}"
            : $"  {tag} is taken in; nothing is scheduled.");
    }

    /// <summary>The sticker; "" to leave the card, null when there is no more input.</summary>
    private string? Sticker(V1.WaitingList list)
    {
        string? asked = null;
        while (Read($"  sticker [{list.NextTag}]: ") is { } said)
        {
            string tag = said.Length == 0 ? list.NextTag : said;
            if (tag == "-")
            {
                return "";
            }

            if (ClaimCheck.TagProblem(tag) is { } problem)
            {
                Say($"  {problem}");
            }
            else if (tag != asked && StickerSeries.MayBeCutOff(tag, list.Tags))
            {
                asked = tag;
                Say($"  {tag} is shorter than the other stickers and may be cut off: scan it again, the same once more keeps it.");
            }
            else
            {
                return tag;
            }
        }

        return null;
    }

    /// <summary>What is claimed of the card; null when there is no more input.</summary>
    private Claim? Product(V1.WaitingList list, V1.WaitingCard card, string tag)
    {
        // What is proposed first is what is taken by a mere Enter: a label that the size speaks for, if there is one.
        Claim[] products = [.. list.Products.Select(ClaimCodec.FromMessage).OrderBy(p => IsOfSize(p, card.DiskBytes) ? 0 : 1)];
        for (int i = 0; i < products.Length; i++)
        {
            Say(string.Create(CultureInfo.InvariantCulture, $"  {i + 1}  {Explain.ClaimText(products[i])}"));
        }

        if (products.Length == 0)
        {
            Say($"  No product is known yet: say with `claim {tag}` what is printed on the card, or give a table with --claims.");
            return new Claim { Tag = tag };
        }

        while (Read("  claimed, a number, with u for a used card [1]: ") is { } said)
        {
            if (said == "-")
            {
                return new Claim { Tag = tag };
            }

            bool isUsed = said.EndsWith('u');
            string number = isUsed ? said[..^1] : said;
            if (number.Length == 0
                || (int.TryParse(number, NumberStyles.None, CultureInfo.InvariantCulture, out int chosen) && chosen >= 1
                    && chosen <= products.Length))
            {
                Claim product = products[number.Length == 0 ? 0 : int.Parse(number, CultureInfo.InvariantCulture) - 1];
                return Price(product with { Tag = tag, Condition = isUsed ? CardCondition.Used : product.Condition });
            }

            Say(string.Create(CultureInfo.InvariantCulture,
                $"  Give a number from 1 to {products.Length}, or - for a card of which nothing is claimed."));
        }

        return null;
    }

    /// <summary>A card holds a little less than its label says, or a little more.</summary>
    private static bool IsOfSize(Claim claim, long diskBytes) =>
        claim.LabelGigabytes is { } gigabytes && Math.Abs((double)gigabytes * 1e9 / diskBytes - 1) < 0.15;

    private Claim? Price(Claim claim)
    {
        string currency = claim.Currency ?? "";
        string before = claim.Price is { } known ? string.Create(CultureInfo.InvariantCulture, $"{known:0.00} {currency}") : "not known";
        while (Read($"  price [{before}]: ") is { } said)
        {
            string[] parts = said.Split(' ', StringSplitOptions.RemoveEmptyEntries);
            if (said.Length == 0)
            {
                return claim;
            }

            if (said == "-")
            {
                return claim with { Price = null, Currency = null };
            }

            Claim priced = claim with { Currency = parts.Length > 1 ? parts[1] : claim.Currency };
            if (parts.Length <= 2
                && decimal.TryParse(parts[0], NumberStyles.AllowDecimalPoint, CultureInfo.InvariantCulture, out decimal price)
                && ClaimCheck.Problems(priced with { Price = price }).Count == 0)
            {
                return priced with { Price = price };
            }

            Say($"  Write it like 12.90{(currency.Length == 0 ? " EUR" : "")}.");
        }

        return null;
    }

    private string? Read(string question)
    {
        string[] lines = [.. Lines(question)];
        foreach (string line in lines[..^1])
        {
            output.WriteLine(line);
        }

        output.Write(lines[^1] + " ");
        output.Flush();
        return input.ReadLine()?.Trim();
    }

    /// <summary>Texts of boards and cards may hold anything.</summary>
    private void Say(string text)
    {
        foreach (string line in Lines(text))
        {
            output.WriteLine(line);
        }
    }

    private static IEnumerable<string> Lines(string text)
    {
        string indent = new(' ', text.Length - text.TrimStart(' ').Length);
        return FirstPageText.Wrap(text, Columns - indent.Length, "").Select(line => indent + line);
    }
}
