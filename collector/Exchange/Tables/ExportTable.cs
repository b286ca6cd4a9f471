using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Profiles;

namespace Cardassay.Collector.Exchange.Tables;

/// <summary>One table of the exported data set.</summary>
internal abstract class ExportTable
{
    /// <summary>Name, as in file names.</summary>
    internal abstract string Name { get; }

    /// <summary>What a row is, a sentence.</summary>
    internal abstract string Meaning { get; }

    /// <summary>The columns, in order. Never rename or retype one without a new version of the format: files of years lie beside each other.</summary>
    internal abstract IReadOnlyList<ExportColumn> Columns { get; }

    /// <summary>Number of rows.</summary>
    internal abstract int Count { get; }

    /// <summary>The rows: each value a string, long, double, bool, DateOnly, DateTimeOffset, or null for "unknown". They can be gone through again and again.</summary>
    internal abstract IEnumerable<object?[]> Rows { get; }

    /// <summary>The whole data set: figures, cards and runs.</summary>
    internal static IReadOnlyList<ExportTable> All(MasterData data)
    {
        AnalysisResult analysis = Analyser.Run(data, UseProfile.SystemDisk, new AnalysisOptions());
        return [FigureTable.Of(data, analysis), CardTable.Of(data, analysis), RunTable.Of(data, analysis)];
    }
}

/// <summary>A table whose rows are made from one kind of thing.</summary>
/// <param name="name">Name of the table.</param>
/// <param name="meaning">What a row is.</param>
/// <param name="columns">Its columns, each with how its value is found.</param>
/// <param name="rows">The things.</param>
internal sealed class ExportTable<T>(string name, string meaning, IReadOnlyList<(ExportColumn Column, Func<T, object?> Value)> columns, IReadOnlyList<T> rows) : ExportTable
{
    internal override string Name => name;

    internal override string Meaning => meaning;

    internal override IReadOnlyList<ExportColumn> Columns { get; } = [.. columns.Select(c => c.Column)];

    internal override int Count => rows.Count;

    internal override IEnumerable<object?[]> Rows => rows.Select(row => columns.Select(c => c.Value(row)).ToArray());
}

/// <summary>Columns of a table, as they are written down.</summary>
internal sealed class ColumnsOf<T>
{
    private readonly List<(ExportColumn, Func<T, object?>)> _all = [];

    /// <summary>Those so far.</summary>
    internal IReadOnlyList<(ExportColumn Column, Func<T, object?> Value)> All => _all;

    internal ColumnsOf<T> Text(string name, string meaning, Func<T, string?> value) => Add(name, ColumnType.Text, "", meaning, value);

    internal ColumnsOf<T> Whole(string name, string unit, string meaning, Func<T, long?> value) => Add(name, ColumnType.Whole, unit, meaning, r => value(r));

    internal ColumnsOf<T> Number(string name, string unit, string meaning, Func<T, double?> value) => Add(name, ColumnType.Number, unit, meaning, r => value(r) is { } v && double.IsFinite(v) ? v : null);

    internal ColumnsOf<T> Flag(string name, string meaning, Func<T, bool> value) => Add(name, ColumnType.Flag, "", meaning, r => value(r));

    internal ColumnsOf<T> Day(string name, string meaning, Func<T, DateOnly?> value) => Add(name, ColumnType.Day, "", meaning, r => value(r));

    internal ColumnsOf<T> Moment(string name, string meaning, Func<T, DateTimeOffset?> value) => Add(
        name, ColumnType.Moment, "", meaning, r => value(r) is { } at ? DateTimeOffset.FromUnixTimeMilliseconds(at.ToUnixTimeMilliseconds()) : null);

    private ColumnsOf<T> Add(string name, ColumnType type, string unit, string meaning, Func<T, object?> value)
    {
        _all.Add((new ExportColumn(name, type, unit, meaning), value));
        return this;
    }
}
