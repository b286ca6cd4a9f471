namespace Cardassay.Collector.Exchange.Tables;

/// <summary>What a column of an export holds.</summary>
internal enum ColumnType
{
    /// <summary>Text, or nothing.</summary>
    Text = 0,

    /// <summary>A whole number of 64 bits, or nothing.</summary>
    Whole = 1,

    /// <summary>A number of 64 bits, or nothing.</summary>
    Number = 2,

    /// <summary>True or false.</summary>
    Flag = 3,
}

/// <summary>One column of an export.</summary>
/// <param name="Name">Name with the unit last, the same in CSV, JSON and Parquet.</param>
/// <param name="Type">What it holds.</param>
/// <param name="Value">Its value: string, long, double, bool, or null for "unknown".</param>
internal sealed record ExportColumn(string Name, ColumnType Type, Func<ExportRow, object?> Value);
