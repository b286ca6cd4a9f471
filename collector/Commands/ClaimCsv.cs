using System.Globalization;
using Cardassay.Collector.Exchange;
using Cardassay.Collector.Exchange.HandKept;
using Cardassay.Collector.Files;
using Cardassay.Collector.Hosting;
using Cardassay.Identity;

namespace Cardassay.Collector.Commands;

/// <summary>Claims from a table, one row per card. Either every row is good or none is taken.</summary>
internal sealed record ClaimCsv(TableText Table, ColumnMap Map, HandKeptFigures Read)
{
    internal IReadOnlyList<Claim> Claims => [.. Read.Claims.Select(c => c.Claim)];

    /// <summary>True when nothing of it was guessed.</summary>
    internal bool IsSure => UnderstoodTable.IsSure(Table, Map, Read.Numbers);

    /// <summary>Reads a file.</summary>
    /// <exception cref="CommandException">It cannot be read, or a row is wrong.</exception>
    internal static ClaimCsv OfFile(string path, IEnumerable<string> map, bool decimalComma, string? currency)
    {
        try
        {
            return Parse(ForeignFile.ReadText(path, ForeignFile.MaxTableBytes), path, map, decimalComma, currency);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            throw new CommandException($"--csv {path} cannot be read: {e.Message}", 2);
        }
        catch (EvidenceException e)
        {
            throw new CommandException($"--csv: {e.Message}", 2);
        }
    }

    /// <summary>Reads a text.</summary>
    /// <exception cref="CommandException">A row is wrong; every one is named.</exception>
    internal static ClaimCsv Parse(string text, string name, IEnumerable<string> maps, bool decimalComma, string? currency)
    {
        HandKeptFigures read;
        TableText table;
        ColumnMap map;
        try
        {
            table = TableText.Parse(text, name);
            map = ColumnMap.Of(table, TableWants.Claims, maps, _ => null);
            read = HandKeptFigures.Read(table, map, decimalComma, DateOnly.MaxValue, currency);
        }
        catch (EvidenceException e)
        {
            throw new CommandException(e.Message, 2);
        }

        return read.Refused.Count == 0
            ? new ClaimCsv(table, map, read)
            : throw new CommandException(
                $"{name}: nothing was recorded, mend these lines first:{Environment.NewLine}"
                + string.Join(Environment.NewLine,
                    read.Refused.Select(r => string.Create(CultureInfo.InvariantCulture, $"  line {r.Line}: {r.Why}"))),
                2);
    }
}
